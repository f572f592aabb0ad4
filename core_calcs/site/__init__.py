"""The place where the skeleton stands, and what acts on it there: plain values."""
