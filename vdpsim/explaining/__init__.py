"""What a key, a client or a word means: from the files' schemas, the shipped files and the model's own words."""
