"""The geometry kernel: STEP bytes in, facts out. The only package that imports OCP."""
