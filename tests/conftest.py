"""Its place makes the modules beside it (meshes, media) importable from every test."""
