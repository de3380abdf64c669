// Video memory, outside of the chip: words of an access, read at once and written byte by byte.
module video_memory (clk, word, write, data, value);
  `include "design.vh"
  input clk;
  input [23:0] word;                   // number of the access
  input [MEMORY_ACCESS_BYTES-1:0] write; // lane i: bits 8 x i and up
  input [BUS_BITS-1:0] data;
  output [BUS_BITS-1:0] value;
  reg [BUS_BITS-1:0] words [0:MEMORY_SIZE/MEMORY_ACCESS_BYTES-1];
  assign value = words[word];
  integer i;
  always @(posedge clk) if (write != 0)
    for (i = 0; i < MEMORY_ACCESS_BYTES; i = i + 1)
      if (write[i]) words[word][8*i +: 8] <= data[8*i +: 8];
endmodule
