"""Steps that look at a pixel's neighbours, on OpenCV."""
