"""The local wall: how slip builds up over the whole cavity while the plaster behind it takes up water."""
