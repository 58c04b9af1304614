"""Parts that others describe: URDF and xacro expanded, read strictly, and kept free of any prefix."""
