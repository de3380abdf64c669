// The palette, and the colour of an entry.
//
// It knows the packed colour word. The word is written byte by byte, the low byte first, or as a
// whole. The colour stands two ticks after the entry; a byte that is read, a clock after.
module palette (clk, tick, write, write_at, write_data, read, value, entry, colour);
  `include "design.vh"
  input clk, tick, write;
  input [15:0] write_at;               // a byte address
  input [7:0] write_data;
  input read;                          // the byte at write_at
  output [7:0] value;
  input [15:0] entry;
  output reg [23:0] colour;

  localparam integer BYTES = (PALETTE_WORD_BITS + 7) / 8;
  reg [8*BYTES-1:0] words [0:PALETTE_ENTRIES-1];
  reg [8*BYTES-1:0] word;
  integer i;
  always @(posedge clk) if (write) begin
    for (i = 0; i < BYTES; i = i + 1)
      if (write_at % BYTES == i) words[write_at / BYTES][8*i +: 8] <= write_data;
  end
  always @(posedge clk) if (tick) word <= words[entry];
  reg [8*BYTES-1:0] read_word;
  reg [1:0] read_byte;
  always @(posedge clk) if (read) begin
    read_word <= words[write_at / BYTES];
    read_byte <= write_at % BYTES;
  end
  assign value = read_word >> 8*read_byte;

  wire [7:0] red, green, blue;
  genvar b;
  generate
    for (b = 0; b < 8; b = b + 1) begin : a_bit
      localparam integer R = PALETTE_RED_PLACES[32*b +: 32];
      localparam integer G = PALETTE_GREEN_PLACES[32*b +: 32];
      localparam integer B = PALETTE_BLUE_PLACES[32*b +: 32];
      assign red[b] = R < 0 ? 1'b0 : word[R < 0 ? 0 : R];
      assign green[b] = G < 0 ? 1'b0 : word[G < 0 ? 0 : G];
      assign blue[b] = B < 0 ? 1'b0 : word[B < 0 ? 0 : B];
    end
  endgenerate
  // value x 255 / (2^b - 1), rounded half up
  localparam integer RED_TOP = (1 << PALETTE_RED_BITS) - 1;
  localparam integer GREEN_TOP = (1 << PALETTE_GREEN_BITS) - 1;
  localparam integer BLUE_TOP = (1 << PALETTE_BLUE_BITS) - 1;
  wire [7:0] red_full = (red * 510 + RED_TOP) / (2 * RED_TOP);
  wire [7:0] green_full = (green * 510 + GREEN_TOP) / (2 * GREEN_TOP);
  wire [7:0] blue_full = (blue * 510 + BLUE_TOP) / (2 * BLUE_TOP);
  always @(posedge clk) if (tick) colour <= {red_full, green_full, blue_full};
endmodule
