"""The computation: tone, matte, steps. numpy and the standard library only."""
