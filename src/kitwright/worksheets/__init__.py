"""One declaration per calculation; terminal, page, API, paper and documentation read it."""
