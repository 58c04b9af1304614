"""The ROS 2 package around the files: manifest, build, launch, view, pages, the copy of the layout."""
