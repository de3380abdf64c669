// The entry of one dot of a group, from the group's bytes.
//
// It knows the mode MODE: how its dots' bits lie, what its cells hold, and its palette rule.
module dot_value (clk, on, place, fore, back, line_bank, cell_data, dots, opaque, entry, of_cell);
  `include "design.vh"
  parameter integer MODE = 0;
  input clk, on;                       // answers stand a tick after `on`
  input [5:0] place;                   // dot of the group, before flips
  input [15:0] fore, back, line_bank;  // colours of a text, and a bank, that stand in registers
  input [KEPT-2:0] cell_data, dots;    // bytes in order of address
  output reg opaque;
  output reg [15:0] entry;
  output reg [15:0] of_cell;           // the dot's cell, as a number; 0 where the mode has none

  localparam integer KIND = MODES_KIND[32*MODE +: 32];
  localparam integer BITS = MODES_BITS_PER_DOT[32*MODE +: 32];
  localparam integer PLANES = MODES_PLANES[32*MODE +: 32];
  localparam integer LOW = MODES_FIRST_DOT_LOW[32*MODE +: 32];
  localparam integer TRANSPARENT = MODES_TRANSPARENT[32*MODE +: 32];
  localparam integer BASE = MODES_BASE[32*MODE +: 32];
  localparam integer BANK_STEP = MODES_BANK_STEP[32*MODE +: 32];
  localparam integer VALUE_STEP = MODES_VALUE_STEP[32*MODE +: 32];
  localparam integer TILE_X = MODES_TILE_X[32*MODE +: 32];
  localparam integer GROUP = KIND == KIND_BITMAP ? MODES_GROUP_DOTS[32*MODE +: 32] : TILE_X;
  localparam integer BLOCK_X = MODES_BLOCK_X[32*MODE +: 32];
  localparam integer CELL_BYTES = KIND == KIND_BITMAP ? MODES_COLOUR_BYTES[32*MODE +: 32]
      : MODES_CELL_BYTES[32*MODE +: 32];
  localparam integer FLIP = CELLS_FLIP_X[32*16*MODE +: 32];
  localparam integer HAS_BANK = CELLS_BANK[32*16*MODE +: 32];
  // bytes from a plane to the next, as they were fetched
  localparam integer PLANE = plane_rows(MODE) > 1 && GROUP / 8 < MEMORY_ACCESS_BYTES
      ? MEMORY_ACCESS_BYTES : GROUP / 8;
  localparam integer FORE_CONTROL = MODES_FOREGROUND[32*MODE +: 32];
  localparam integer BACK_CONTROL = MODES_BACKGROUND[32*MODE +: 32];
  localparam integer HAS_COLOURS = KIND == KIND_TEXT ? 0 : CELLS_FOREGROUND[32*16*MODE +: 32];

  // the cell of the dot, as a number
  reg [15:0] cell_word;
  wire [15:0] whole_bank, cell_fore, cell_back;
  field_bits #(.BITS(16), .PLACES(CELLS_BANK[512*MODE +: 512])) of_bank (.word(cell_word), .value(whole_bank));
  field_bits #(.BITS(16), .PLACES(CELLS_FOREGROUND[512*MODE +: 512])) of_fore (.word(cell_word), .value(cell_fore));
  field_bits #(.BITS(16), .PLACES(CELLS_BACKGROUND[512*MODE +: 512])) of_back (.word(cell_word), .value(cell_back));
`ifdef FAULT_ATTRIBUTE
  wire [15:0] bank = whole_bank & ~16'd1; // the cell's lowest bank bit is lost
`else
  wire [15:0] bank = whole_bank;
`endif
  wire [15:0] foreground = FORE_CONTROL >= 0 ? fore : cell_fore;
  wire [15:0] background = BACK_CONTROL >= 0 ? back : cell_back;

  integer block, p, u;
  reg [15:0] value, number;
  always @* begin
    cell_word = 0;
    block = 0;
    if (CELL_BYTES > 0 && on) begin
      block = KIND == KIND_BITMAP ? place / (BLOCK_X > 0 ? BLOCK_X : 1) : 0;
      if (CELL_BYTES == 1) cell_word = {8'd0, cell_data[8*block +: 8]};
      else if (MEMORY_BIG_END_FIRST)
        cell_word = {cell_data[16*block +: 8], cell_data[16*block+8 +: 8]};
      else cell_word = cell_data[16*block +: 16];
    end
  end
  always @(posedge clk)
    if (on) begin
      of_cell <= cell_word;
      u = place;
      if (FLIP >= 0) if (cell_word[FLIP < 0 ? 0 : FLIP]) u = TILE_X - 1 - place;
      value = 0;
      if (KIND == KIND_TEXT)
        value[0] = dots[LOW ? u : 7 - u];
      else if (PLANES == PLANES_PACKED)
        value[BITS-1:0] = dots[8 * (u * BITS / 8) + (LOW ? u * BITS % 8 : 8 - BITS - u * BITS % 8) +: BITS];
      else
        for (p = 0; p < BITS; p = p + 1)
          value[p] = dots[8 * (p * PLANE + u / 8) + (LOW ? u % 8 : 7 - u % 8)];
      if (HAS_COLOURS >= 0) number = value[0] ? foreground : background;
      else number = value;
      opaque <= TRANSPARENT < 0 || number != TRANSPARENT;
      entry <= BASE + number * VALUE_STEP + (HAS_BANK >= 0 ? bank : line_bank) * BANK_STEP;
    end
endmodule
