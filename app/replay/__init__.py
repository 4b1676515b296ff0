"""A step list over many pages."""
