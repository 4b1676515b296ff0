"""What each command of the command line does, and how it says it."""
