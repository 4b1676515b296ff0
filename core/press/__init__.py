"""What a press holds: dots, gain, lines, print sizes, and the screens that a page goes through."""
