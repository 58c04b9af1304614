"""Two assemblies: what moved, who must be told, what to do with a screwdriver; a request to move a part."""
