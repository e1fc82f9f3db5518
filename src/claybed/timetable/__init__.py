"""When what is done, from the first bed to a mold that is ready to use."""
