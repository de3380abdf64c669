// Whether a slot is one of a list: those whose number modulo EVERY stands in LIST; EVERY 0 is all.
/* verilator lint_off WIDTH */        // numbers of the constants are 32 bits wide
/* verilator lint_off UNUSEDSIGNAL */ // a list of all slots does not ask for the slot
module slot_list (slot, hit);
  parameter integer EVERY = 0;
  parameter integer COUNT = 0;
  parameter [1023:0] LIST = 0;
  input [15:0] slot;
  output hit;
  generate
    if (EVERY <= 0) begin : all
      assign hit = 1'b1;
    end else begin : some
      wire [COUNT:0] hits;
      assign hits[COUNT] = 1'b0;
      genvar i;
      for (i = 0; i < COUNT; i = i + 1) begin : a_number
        assign hits[i] = slot % EVERY == LIST[32*i +: 32];
      end
      assign hit = |hits;
    end
  endgenerate
endmodule
