"""Gazebo: the model with sensors and drive, the world, the bridge to ROS, the launch file, the page that says what is modelled."""
