// What the constants may ask that this design does not do: it says so and stops.
module limits;
  `include "design.vh"
`ifndef SYNTHESIS
  integer i, j, field, stops;
  task refuse;
    input condition;
    input [8*72-1:0] what;
    if (condition) begin
      $display("this design does not do: %0s", what);
      stops = 1;
    end
  endtask
  task address_of_line;
    input [31:0] number;
    if (number != ~32'd0) begin
      field = CONTROLS_FIELD[32*number +: 32];
      if (field >= 0)
        refuse(FIELDS_EFFECT[32*field +: 32] == EFFECT_AT_ONCE, "addresses that count in mid-line");
    end
  endtask
  initial begin
    stops = 0;
    refuse(SIZES != 1, "pictures of several sizes");
    refuse(!MEMORY_TIMED, "memory without slots");
    refuse(REGISTER_BITS != 32, "registers of another layout");
    refuse(CELL_BITS != 16 || MOST_PLANES != 8, "cells or planes of another layout");
    refuse(CPU_PACED && CPU_LOOP < 2 * MEMORY_RATE_DOTS * CPU_UNITS, "a CPU as fast as the slots");
    for (i = 0; i < PLACES; i = i + 1) begin
      refuse(PLACES_KEEP[32*i], "cells kept from line to line");
      if (PLACES_WHAT[32*i +: 32] == WHAT_SPRITES)
        refuse(PLACES_WHEN[32*i +: 32] != WHEN_LINE_BEFORE, "sprites fetched on their own line");
      else
        refuse(PLACES_WHEN[32*i +: 32] == WHEN_LINE_BEFORE, "a layer fetched on the line before");
    end
    for (i = 0; i < LAYERS; i = i + 1)
      refuse(LAYERS_BANK[32*i +: 32] != ~32'd0, "a layer's bank in a register");
    for (i = 0; i < MODES; i = i + 1) begin
      refuse(MODES_KIND[32*i +: 32] != KIND_TEXT && (MODES_SPAN_X[32*i +: 32] > 4096
             || MODES_SPAN_Y[32*i +: 32] > 4096), "surfaces of more than 4096 dots or lines");
      refuse(MODES_PLANES[32*i +: 32] == PLANES_BY_PATTERN, "planes by pattern");
      refuse(MODES_KIND[32*i +: 32] == KIND_TILES && MODES_PLANES[32*i +: 32] == PLANES_APART,
             "tiles in planes apart");
      refuse(MODES_KIND[32*i +: 32] != KIND_TEXT
             && MODES_ROW_BYTES[32*i +: 32] % MEMORY_ACCESS_BYTES != 0, "rows smaller than an access");
      for (j = 0; j < 16; j = j + 1)
        refuse(CELLS_TURN[32*(16*i+j) +: 32] != ~32'd0, "turned cells");
      address_of_line(MODES_MAP[32*i +: 32]);
      address_of_line(MODES_COLOURS[32*i +: 32]);
      for (j = 0; j < MOST_PLANES; j = j + 1) address_of_line(MODES_BASES[32*(MOST_PLANES*i+j) +: 32]);
    end
    refuse(SPRITES_COUNT == 0, "a chip without sprites");
    refuse(SPRITES_RUNG_BY_RUNG != 0, "sprites that settle rung by rung");
    refuse(SPRITES_PLANES > PLANES_BY_ROW, "sprites in planes by pattern or apart");
    refuse(SPRITES_IN_MEMORY && SPRITES_FRONT_FIRST != SPRITES_BACK_DROPPED,
           "a table in memory that is walked from its end");
    refuse(SPRITES_IN_MEMORY && SPRITES_RECORD_BYTES % MEMORY_ACCESS_BYTES != 0,
           "records that are no whole number of accesses");
    refuse(SPRITES_IN_MEMORY && BLANK_DOTS * MEMORY_RATE_ACCESSES < SPRITES_COUNT,
           "more sprites than the blanking has ticks");
    refuse(SPRITE_SLOTS > 64, "more than 64 sprites on a line");
    refuse(SPRITES_DOTS_PER_LINE < 0 || SPRITES_DOTS_PER_LINE + 3 * SPRITE_SLOTS > TICKS,
           "more dots of sprites than a line has ticks");
    for (i = 0; i < SPRITE_SIZES; i = i + 1)
      refuse(SPRITE_SIZES_ROW_BYTES[32*i +: 32] % MEMORY_ACCESS_BYTES != 0,
             "sprites with rows smaller than an access");
    if (stops) $finish;
  end
`endif
endmodule
