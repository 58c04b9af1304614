"""Parameter files of the navigation stack and its neighbours, as far as geometry decides them."""
