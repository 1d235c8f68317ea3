"""Where the tool speaks up: what is unsafe, impossible or worth knowing, a file a subject."""
