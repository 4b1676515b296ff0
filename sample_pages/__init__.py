"""Demo scans of a tide-mill keeper's sketchbook, and the generator that draws them."""
