// The sprites of a chip that has any.
//
// It knows the way of a line's sprites: the table on the chip is looked through at dot 0 of a line,
// their bytes are fetched on the memory's line, they are drawn into a buffer and show. Whatever
// cannot be done in time is told as late.
module sprites (
    clk, reset, tick, controls, dot, dot_end, kind, turn, after_line, fetch_begin, fetch_line, fetch_kind,
    fetch_turn, show_turn, write, asks, write_at, write_data, gives, given, slot_end, served, value, bytes, ask, of_table, address,
    dropping, mask, entry, slot_numbers, slot_groups, slot_tests, late,
    counts, found, drawn, drops, drop, reason
);
  `include "design.vh"
  localparam integer N = SPRITE_SLOTS;
  input clk, reset, tick;
  // the scanner's line, the memory's, and the picture's
  input [32*CONTROLS-1:0] controls;
  input [15:0] dot, after_line, fetch_line;
  input dot_end, fetch_begin, show_turn;
  input [1:0] kind, turn, fetch_kind, fetch_turn;
  // the CPU's bytes for a table on the chip
  input write, asks;
  input [15:0] write_at;
  input [7:0] write_data;
  output gives;                        // `given` is the byte that was asked for
  output [7:0] given;
  // the memory's side
  input slot_end, served;
  input [BUS_BITS-1:0] value, bytes;
  output ask, of_table;
  output [23:0] address;
  // the picture's side
  output [3:0] dropping;
  output [N-1:0] mask;
  output [ENTRY_BITS-1:0] entry;
  output [SPRITE_NUMBER*N-1:0] slot_numbers;
  output [8*N-1:0] slot_groups;
  output [RUNGS*N-1:0] slot_tests;
  output late;
  // what came of the line before
  output counts, drops;
  output [SPRITE_NUMBER-1:0] found, drawn, drop;
  output [1:0] reason;

  wire listed, list_overflow, draws_late, tells;
  wire [RECORD-1:0] list_record, read_record;
  wire [7:0] list_row, read_slot;
  wire [SPRITE_NUMBER-1:0] list_number, read_number;
  wire [SPRITE_ROW-1:0] read_dots;
  wire read_dots_now, read_turn;
  wire scan_begins = dot_end && dot == 0 && kind != LINE_IDLE;
  assign late = list_overflow || draws_late;
  generate
    if (SPRITES_IN_MEMORY) begin : no_table
      assign listed = 1'b0;
      assign list_record = 0;
      assign list_row = 0;
      assign list_number = 0;
      assign list_overflow = 1'b0;
      assign gives = 1'b0;
      assign given = 8'd0;
    end else begin : table_on_chip
      sprite_table sprite_table (
        .clk(clk), .reset(reset), .begins(scan_begins && after_line < FRAME_HEIGHT),
        .line(after_line), .write(write), .asks(asks), .write_at(write_at), .write_data(write_data),
        .gives(gives), .given(given),
        .found(listed), .record(list_record), .row(list_row), .number(list_number),
        .overflow(list_overflow));
    end
  endgenerate
  sprite_fetch sprite_fetch (
    .clk(clk), .reset(reset), .scan_begins(scan_begins), .scan_turn(turn), .controls(controls),
    .listed(listed), .list_record(list_record), .list_row(list_row), .list_number(list_number),
    .fetch_begin(fetch_begin), .begin_kind(kind), .next_line(after_line), .turn(fetch_turn),
    .line(fetch_line), .kind(fetch_kind), .slot_end(slot_end), .served(served), .value(value), .bytes(bytes),
    .ask(ask), .address(address), .of_table(of_table), .dropped(dropping), .tells(tells), .told_found(found),
    .told_drawn(drawn), .drops(drops), .drop_number(drop), .drop_reason(reason),
    .reads(read_dots_now), .read_turn(read_turn), .read_slot(read_slot), .read_record(read_record),
    .read_number(read_number), .read_dots(read_dots));
  assign counts = tells && fetch_kind == LINE_FRAME && fetch_line < FRAME_HEIGHT;
  sprite_draw sprite_draw (
    .clk(clk), .reset(reset), .begins(tells), .count(drawn), .source_turn(!fetch_turn[0]),
    .reads(read_dots_now), .read_turn(read_turn), .read_slot(read_slot), .record(read_record),
    .number(read_number), .row(read_dots), .tick(tick), .show(dot_end && dot < FRAME_WIDTH),
    .show_turn(show_turn), .dot(dot), .mask(mask), .entry(entry), .slot_numbers(slot_numbers),
    .slot_groups(slot_groups), .slot_tests(slot_tests), .late(draws_late));
endmodule
