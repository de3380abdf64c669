// A field of a cell or record as a number: its bits lie in `word` where PLACES says, the lowest first, -1 where there is none.
//
// It knows that nearly all fields lie in a row: those are one slice, which is the quicker to simulate.
/* verilator lint_off WIDTH */        // numbers of the constants are 32 bits wide
/* verilator lint_off UNUSEDSIGNAL */ // a field has not all bits of the word
module field_bits (word, value);
  parameter integer WORD = 16;         // bits of the word
  parameter integer BITS = 32;         // bits that a field can have
  parameter [32*BITS-1:0] PLACES = 0;
  input [WORD-1:0] word;
  output [BITS-1:0] value;

  // how many bits there are if they lie in a row from `first` on, else -1
  function integer bits_in_a_row;
    input [31:0] first;
    integer n;
    begin
      bits_in_a_row = 0;
      for (n = 0; n < BITS; n = n + 1)
        if (PLACES[32*n +: 32] != ~32'd0)
          bits_in_a_row = bits_in_a_row == n && PLACES[32*n +: 32] == first + n ? n + 1 : -1;
    end
  endfunction
  localparam integer FIRST = PLACES[31:0];
  localparam integer ROW = bits_in_a_row(FIRST);
  genvar b;
  generate
    if (ROW == 0) begin : none
      assign value = 0;
    end else if (ROW > 0) begin : a_slice
      assign value = word[FIRST +: ROW];
    end else begin : scattered
      for (b = 0; b < BITS; b = b + 1) begin : a_bit
        localparam integer PLACE = PLACES[32*b +: 32];
        assign value[b] = PLACE < 0 ? 1'b0 : word[PLACE < 0 ? 0 : PLACE];
      end
    end
  endgenerate
endmodule
