"""Between scene and core: turns the scene into the core's values and the core's results back into the scene."""
