// Draws the sprites of a line into a line buffer, dot by dot, and gives them to the picture.
//
// It knows how the dots of a row lie, and that the sprites come in the order of the walk. A dot of
// the buffer has a bit for every sprite drawn that is opaque there, and the entry of the front-most,
// or of each where they settle rung by rung: then the ladder says who shows.
// Two buffers: one is drawn while the other shows; what has shown is cleared. Drawing begins some
// ticks after the line's last dot was read, when the mixer is done with it as well.
module sprite_draw (
    clk, reset, begins, count, source_turn, reads, read_turn, read_slot, record, number, row,
    tick, show, show_turn, dot, mask, entry, slot_numbers, slot_groups, slot_tests, late
);
  `include "design.vh"
  input clk, reset;
  input begins;                        // `count` sprites of source_turn are to be drawn
  input [SPRITE_NUMBER-1:0] count;
  input source_turn;
  output reads;
  output reg read_turn;
  output reg [7:0] read_slot;
  input [RECORD-1:0] record;           // a tick after read_slot
  input [SPRITE_NUMBER-1:0] number;
  input [SPRITE_ROW-1:0] row;
  // the picture's side
  input tick, show, show_turn;         // show: read `dot`, and clear it
  input [15:0] dot;
  output [SPRITE_SLOTS-1:0] mask;
  output [ENTRY_BITS-1:0] entry;
  output [SPRITE_NUMBER*SPRITE_SLOTS-1:0] slot_numbers;
  output [8*SPRITE_SLOTS-1:0] slot_groups;
  output [RUNGS*SPRITE_SLOTS-1:0] slot_tests;
  output reg late;                     // a line was not drawn in time

  wire [31:0] x, bank, size, group;
  wire flip_x, bias;
  wire [RUNGS-1:0] tests;
  reg [RECORD-1:0] record_held;
  reg [SPRITE_ROW-1:0] row_held;
  reg [1:0] stage;                     // 0 idle, 1 reading, 2 read, 3 dots
  reg [2:0] waits;                     // ticks until the drawing begins
  /* verilator lint_off PINCONNECTEMPTY */
  sprite_fields fields (.record(stage == 2 ? record : record_held), .x(x), .y(), .pattern(),
    .flip_x(flip_x), .flip_y(), .bank(bank), .size(size), .group(group), .enable(), .bias(bias),
    .tests(tests));
  /* verilator lint_on PINCONNECTEMPTY */
  wire [31:0] width = SPRITE_SIZES_WIDTH[32*size[3:0] +: 32];
  wire [7:0] tile_x = SPRITE_SIZES_TILE_X[32*size[3:0] +: 8];
  wire [7:0] tile_bytes = SPRITE_SIZES_ROW_ACCESSES[32*size[3:0] +: 32] * MEMORY_ACCESS_BYTES;

  wire [7:0] plane_bytes = SPRITE_PLANES > 1 ? tile_bytes / SPRITE_PLANES : tile_x / 8;

  reg [7:0] left, dots_left;
  reg [7:0] across;                    // dot of the sprite from its left
  reg target;

  // one dot
  reg [SPRITES_BITS_PER_DOT-1:0] dot_value;
  reg [7:0] u, place;
  reg [15:0] first_byte;
  reg [31:0] at;
  integer p;
  always @* begin
    dot_value = 0;
    at = 0;
    u = 0;
    place = 0;
    first_byte = 0;
    if (stage == 3) begin
      u = flip_x ? width - 1 - across : across;
      first_byte = u / tile_x * tile_bytes;
      place = u % tile_x;
      if (SPRITES_PLANES == PLANES_PACKED)
        dot_value = row_held[8 * (first_byte + place * SPRITES_BITS_PER_DOT / 8)
            + (SPRITES_FIRST_DOT_LOW ? place * SPRITES_BITS_PER_DOT % 8
               : 8 - SPRITES_BITS_PER_DOT - place * SPRITES_BITS_PER_DOT % 8) +: SPRITES_BITS_PER_DOT];
      else
        for (p = 0; p < SPRITES_BITS_PER_DOT; p = p + 1)
          dot_value[p] = row_held[8 * (first_byte + p * plane_bytes + place / 8)
              + (SPRITES_FIRST_DOT_LOW ? place % 8 : 7 - place % 8)];
      at = x - (bias ? SPRITES_BIAS_DOTS : 0) + across;
      if (SPRITES_WRAP_X) at = at & ((32'd1 << SPRITES_X_BITS) - 1);
    end
  end
  wire paints = stage == 3 && at < FRAME_WIDTH && dot_value != SPRITES_TRANSPARENT;
  wire [15:0] painted = SPRITES_BASE + bank * SPRITES_BANK_STEP + dot_value * SPRITES_VALUE_STEP;

  // a dot's read and its write a tick later
  localparam integer WORD = SPRITE_SLOTS + ENTRY_BITS;
  reg put;
  reg [DOT_BITS-1:0] put_at;
  reg [15:0] put_entry;
  reg [7:0] put_slot;
  wire [WORD-1:0] drawn_word;
  wire [SPRITE_SLOTS-1:0] others = drawn_word[WORD-1 -: SPRITE_SLOTS];
  wire [SPRITE_SLOTS-1:0] put_bit = {{(SPRITE_SLOTS-1){1'b0}}, 1'b1} << put_slot;
  reg [ENTRY_BITS-1:0] with_entry;
  always @* begin
    with_entry = drawn_word[ENTRY_BITS-1:0];
    if (SPRITES_RUNG_BY_RUNG) with_entry[16*put_slot +: 16] = put_entry;
    else if (others == 0 || !SPRITES_BACK_DROPPED) with_entry = put_entry;
  end

  // the numbers, groups and rungs of the sprites drawn, of both buffers
  reg [2*SPRITE_NUMBER*SPRITE_SLOTS-1:0] numbers;
  reg [16*SPRITE_SLOTS-1:0] groups;
  reg [2*RUNGS*SPRITE_SLOTS-1:0] rung_tests;
  reg [3:1] turns;                     // of the dots that the picture's steps have
  always @(posedge clk) if (tick) turns <= {turns[2:1], show_turn};
  assign slot_numbers = numbers[SPRITE_NUMBER*SPRITE_SLOTS*turns[3] +: SPRITE_NUMBER*SPRITE_SLOTS];
  assign slot_groups = groups[8*SPRITE_SLOTS*turns[3] +: 8*SPRITE_SLOTS];
  assign slot_tests = rung_tests[RUNGS*SPRITE_SLOTS*turns[3] +: RUNGS*SPRITE_SLOTS];

  assign reads = stage == 1;
  wire works = reset || begins || stage != 0 || put || waits != 0;
  always @(posedge clk)
    if (!works) begin
    end else if (reset) begin
      stage <= 0; waits <= 0; left <= 0; read_turn <= 0; read_slot <= 0; target <= 0; late <= 0; put <= 0;
      across <= 0; dots_left <= 0; put_at <= 0; put_entry <= 0; put_slot <= 0;
      numbers <= 0; groups <= 0; rung_tests <= 0; record_held <= 0; row_held <= 0;
    end else begin
      put <= paints;
      if (stage == 3) begin
        put_at <= at[DOT_BITS-1:0];
        put_entry <= painted;
        put_slot <= read_slot;
      end
      if (begins) begin
        if (stage != 0 || waits != 0) late <= 1;
        left <= count;
        read_turn <= source_turn;
        target <= !source_turn;
        read_slot <= 0;
        stage <= 0;
        waits <= count != 0 ? 3'd6 : 3'd0;
      end else if (waits != 0) begin
        if (tick) waits <= waits - 3'd1;
        if (tick && waits == 1) stage <= 1;
      end else case (stage)
        2'd1: stage <= 2;
        2'd2: begin
          record_held <= record;
          row_held <= row;
          numbers[SPRITE_NUMBER*(SPRITE_SLOTS*target + read_slot) +: SPRITE_NUMBER] <= number;
          groups[8*(SPRITE_SLOTS*target + read_slot) +: 8] <= group[7:0];
          rung_tests[RUNGS*(SPRITE_SLOTS*target + read_slot) +: RUNGS] <= tests;
          across <= 0;
          dots_left <= width[7:0];
          stage <= 3;
        end
        2'd3: begin
          across <= across + 8'd1;
          dots_left <= dots_left - 8'd1;
          if (dots_left == 1) begin
            read_slot <= read_slot + 8'd1;
            left <= left - 8'd1;
            stage <= left == 1 ? 2'd0 : 2'd1;
          end
        end
        default: ;
      endcase
    end

  // the buffers
  reg clears;
  reg [DOT_BITS-1:0] clear_at;
  reg clear_turn, show_of;
  wire [2*WORD-1:0] words;
  assign drawn_word = words[WORD*target +: WORD];
  wire [WORD-1:0] shown_word = words[WORD*show_of +: WORD];
  assign mask = shown_word[WORD-1 -: SPRITE_SLOTS];
  assign entry = shown_word[ENTRY_BITS-1:0];
  wire wipe_works = reset || show || clears;
  always @(posedge clk)
    if (!wipe_works) begin
    end else if (reset) begin
      clears <= 0; clear_at <= 0; clear_turn <= 0; show_of <= 0;
    end else begin
      clears <= show;
      if (show) begin
        clear_at <= dot[DOT_BITS-1:0];
        clear_turn <= show_turn;
        show_of <= show_turn;
      end
    end
  genvar b;
  generate
    for (b = 0; b < 2; b = b + 1) begin : a_buffer
      wire shows = show && show_turn == b;
      wire wipes = clears && clear_turn == b;
      wire takes = put && target == b;
      line_buffer #(.WIDTH(WORD), .ADDRESS(DOT_BITS)) dots (
        .clk(clk), .read(shows || paints && target == b),
        .read_at(shows ? dot[DOT_BITS-1:0] : at[DOT_BITS-1:0]),
        .write(wipes || takes), .write_at(wipes ? clear_at : put_at),
        .data(wipes ? {WORD{1'b0}} : {others | put_bit, with_entry}),
        .value(words[WORD*b +: WORD]));
    end
  endgenerate
endmodule

// One line of dots; a read stands a tick later and stays.
module line_buffer (clk, read, read_at, write, write_at, data, value);
  parameter integer WIDTH = 8;
  parameter integer ADDRESS = 9;
  input clk, read, write;
  input [ADDRESS-1:0] read_at, write_at;
  input [WIDTH-1:0] data;
  output reg [WIDTH-1:0] value;
  reg [WIDTH-1:0] kept [0:(1<<ADDRESS)-1];
  integer i;
  initial for (i = 0; i < 1 << ADDRESS; i = i + 1) kept[i] = 0;
  wire works = write || read;
  always @(posedge clk) if (works) begin
    if (write) kept[write_at] <= data;
    if (read) value <= kept[read_at];
  end
endmodule
