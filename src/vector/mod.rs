//! Named features out of vector files, through OGR.
