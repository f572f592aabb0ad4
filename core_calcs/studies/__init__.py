"""The studies that panel, command line, report and tests all call."""
