"""Training of the recogniser; needs torch and onnx, which the program itself does not."""
