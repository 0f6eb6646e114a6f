"""The `curewatch` command: what people type at the bench and at the shelf."""
