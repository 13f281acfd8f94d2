"""Welds as other programs read them: labelled arrays, tables, meshes."""
