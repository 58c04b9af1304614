"""The description itself: URDF, xacro, ros2_control, meshes, colours."""
