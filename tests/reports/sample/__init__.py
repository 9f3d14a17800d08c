"""Small reports that the tests of the run and of the page use: `gallery` shows every block and chart form, the others fail in one way each."""
