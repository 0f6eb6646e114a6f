"""The shelf: the finish profiles that come with curewatch, one TOML file each, and their keys.

`keys` says which figures a profile may hold, in which unit and within which plausible ends;
`curewatch.finish_files` reads and writes the files. The figures are generic: a shop puts its
product's data sheet in their place.
"""
