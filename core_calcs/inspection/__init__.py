"""What the scans of an element table show when they are held against each other."""
