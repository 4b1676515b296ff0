"""Everything that touches the world outside: files, filters, the command line."""
