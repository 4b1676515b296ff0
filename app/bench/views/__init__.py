"""What is seen: each view is given state to show and reports what the person did by signals."""
