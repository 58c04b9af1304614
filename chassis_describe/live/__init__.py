"""The node that follows a layout file while the robot runs, and the listener that holds a running robot against its layout."""
