"""A design in Verilog that is checked against the model while it runs: cocotb has vdpsim in its loop."""
