"""How many strips it takes: the notebook against its opponents on films of another physics."""
