"""The shop's configuration: one TOML file, what the environment overrides, and secrets in files.

`tables` says which keys there are and hands out what the parts of the daemon need, `load` finds
and reads the file, `faults` names everything wrong with it at once, each with its key path and a
way to mend it.
"""

from curewatch.settings.load import load_settings
from curewatch.settings.tables import Settings

__all__ = ["Settings", "load_settings"]
