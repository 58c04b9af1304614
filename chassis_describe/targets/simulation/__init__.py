"""The robot for simulators: MuJoCo's format, Gazebo's files."""
