"""Reading, splitting, surveying and measuring surfaces."""
