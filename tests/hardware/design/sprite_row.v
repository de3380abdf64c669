// Where an access for a sprite's row lies.
//
// It knows sizes, tiles and planes, and how many columns of tiles a size has. The address is that of
// the row's bytes, whole accesses or a part of one, and not yet taken modulo the memory's size.
module sprite_row (pattern, size, flip_y, row, column, access, bases, at, columns);
  `include "design.vh"
  input [31:0] pattern, size;
  input flip_y;
  input [7:0] row;                     // of the sprite, before flips
  input [7:0] column;                  // of tiles
  input [7:0] access;                  // of the tile's row
  input [24*MOST_PLANES-1:0] bases;
  output [23:0] at;
  output reg [7:0] columns;

  wire [31:0] height = SPRITE_SIZES_HEIGHT[32*size[3:0] +: 32];
  wire [7:0] row_now = flip_y ? height[7:0] - 8'd1 - row : row;
  reg [23:0] row_at;
  reg [7:0] each, plane;
  integer i;
  always @* begin
    row_at = 0;
    columns = 1;
    each = 1;
    plane = 0;
    for (i = 0; i < SPRITE_SIZES; i = i + 1)
      if (size == i) begin
        row_at = pattern * SPRITE_SIZES_STEP[32*i +: 32]
            + row_now / SPRITE_SIZES_TILE_Y[32*i +: 32] * SPRITE_SIZES_BELOW[32*i +: 32]
            + row_now % SPRITE_SIZES_TILE_Y[32*i +: 32] * SPRITE_SIZES_ROW_STEP[32*i +: 32]
            + column * SPRITE_SIZES_RIGHT[32*i +: 32];
        each = SPRITE_SIZES_ROW_ACCESSES[32*i +: 32] / SPRITE_PLANES;
        plane = access / each;
        row_at = row_at + (access - plane * each) * MEMORY_ACCESS_BYTES;
        if (SPRITES_PLANES == PLANES_BY_PATTERN)
          row_at = row_at + plane * SPRITE_SIZES_TILE_Y[32*i +: 32] * SPRITE_SIZES_ROW_STEP[32*i +: 32];
        columns = SPRITE_SIZES_WIDTH[32*i +: 32] / SPRITE_SIZES_TILE_X[32*i +: 32];
      end
  end
  assign at = row_at + (SPRITES_PLANES == PLANES_APART ? bases[24*plane[2:0] +: 24] : bases[23:0]);
endmodule
