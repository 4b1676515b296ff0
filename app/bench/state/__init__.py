"""What the workbench knows and decides, in plain Python; nothing here imports Qt."""
