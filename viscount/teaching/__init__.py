"""Teaching: single parts dropped by hand tell what one part looks like to camera and beam."""
