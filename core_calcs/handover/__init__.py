"""What leaves for other trades: posed meshes, tables, report."""
