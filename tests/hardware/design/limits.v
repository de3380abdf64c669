// What the constants may ask that this design does not do: it says so and stops.
module limits;
  `include "design.vh"
`ifndef SYNTHESIS
  integer i, j, stops;
  task refuse;
    input condition;
    input [8*72-1:0] what;
    if (condition) begin
      $display("this design does not do: %0s", what);
      stops = 1;
    end
  endtask
  initial begin
    stops = 0;
    refuse(SIZES != 1, "pictures of several sizes");
    refuse(!MEMORY_TIMED, "memory without slots");
    refuse(REGISTER_BITS != 32, "registers of another layout");
    refuse(CELL_BITS != 16 || MOST_PLANES != 8, "cells or planes of another layout");
    for (i = 0; i < PLACES; i = i + 1) begin
      refuse(PLACES_KEEP[32*i], "cells kept from line to line");
      if (PLACES_WHAT[32*i +: 32] == WHAT_SPRITES)
        refuse(PLACES_WHEN[32*i +: 32] != WHEN_LINE_BEFORE, "sprites fetched on their own line");
      else
        refuse(PLACES_WHEN[32*i +: 32] == WHEN_LINE_BEFORE, "a layer fetched on the line before");
    end
    refuse(MODES > 16 || LADDERS > 16, "more than 16 modes or ladders");
    for (i = 0; i < MODES; i = i + 1) begin
      refuse(MODES_KIND[32*i +: 32] != KIND_TEXT && (MODES_SPAN_X[32*i +: 32] > 4096
             || MODES_SPAN_Y[32*i +: 32] > 4096), "surfaces of more than 4096 dots or lines");
      for (j = 0; j < 16; j = j + 1)
        refuse(CELLS_TURN[32*(16*i+j) +: 32] != ~32'd0, "turned cells");
    end
    refuse(SPRITES_IN_MEMORY && SPRITES_RECORD_BYTES % MEMORY_ACCESS_BYTES != 0,
           "records that are no whole number of accesses");
    refuse(BLANK_DOTS < 1, "lines without blanking");
    refuse(TICKS < 24, "lines of fewer than 24 ticks");
    refuse(SPRITES_COUNT > TICKS, "more sprites than a line has ticks");
    refuse(SPRITE_SLOTS > 64, "more than 64 sprites on a line");
    if (stops) $finish;
  end
`endif
endmodule
