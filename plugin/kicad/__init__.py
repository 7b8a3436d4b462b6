"""Starting loadloom from KiCad's own windows: setting it up there, the script entries and the button."""
