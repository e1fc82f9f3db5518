"""`claybed object`: an object from whatever can be measured."""
