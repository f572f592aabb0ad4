"""What acts on the posed skeleton besides its own weight."""
