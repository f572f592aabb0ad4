"""The skeleton document: one JSON file that holds a skeleton, its poses, build and site."""
