"""What other programs are told by MQTT: how each bin is, what to do, what a mat's switch may follow, and that we live."""
