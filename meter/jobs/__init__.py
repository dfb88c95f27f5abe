"""Where rooms meet: one function a job."""
