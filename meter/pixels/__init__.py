"""The only room that opens pictures: decoding, light maps, spots, contours."""
