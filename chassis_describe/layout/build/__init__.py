"""Records as read to the values of the layout model; what joins two fields is judged here."""
