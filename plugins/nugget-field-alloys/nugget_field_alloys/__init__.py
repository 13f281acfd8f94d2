"""Strip alloys from the drawer of a river-level station: data only, in the files beside this one."""
