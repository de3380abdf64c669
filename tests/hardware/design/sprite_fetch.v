// The memory's accesses for the sprites of the next line.
//
// It knows a line's list of sprites, the limits, and where patterns lie. With a table in memory it
// fetches the records first and makes the list itself, of as many as the line's slots let it
// read; else the table on the chip has made it.
// Rows of dots go to a store from which the sprites are drawn a line later. What is dropped is told
// while the next line is fetched.
module sprite_fetch (
    clk, reset, scan_begins, scan_turn, controls, listed, list_record, list_row, list_number,
    fetch_begin, begin_kind, next_line, turn, line, kind, slot_end, served, value, bytes, ask, address, of_table,
    dropped, tells, told_found, told_drawn, drops, drop_number, drop_reason,
    reads, read_turn, read_slot, read_record, read_number, read_dots
);
  `include "design.vh"
  localparam integer W = MEMORY_ACCESS_BYTES;
  localparam integer ACCESSES = SPRITES_RECORD_BYTES / W > 0 ? SPRITES_RECORD_BYTES / W : 1;
  localparam integer MANY = SPRITE_NUMBER;
  input clk, reset;
  // the scanner's side, at dot 0 of its line: what is in force; and the list of a table on the chip
  input scan_begins;
  input [1:0] scan_turn;
  input [32*CONTROLS-1:0] controls;
  input listed;
  input [RECORD-1:0] list_record;
  input [7:0] list_row;
  input [SPRITE_NUMBER-1:0] list_number;
  // the memory's side
  input fetch_begin;                   // its next line begins: of begin_kind, before next_line
  input [1:0] begin_kind;
  input [15:0] next_line;
  input [1:0] turn;
  input [15:0] line;                   // the memory's line
  input [1:0] kind;
  input slot_end, served;
  input [BUS_BITS-1:0] value, bytes;
  output ask;
  output [23:0] address;
  output of_table;
  // what came of it
  output [3:0] dropped;                // by turn: the line that shows with it drops a sprite
  output reg tells;
  output reg [SPRITE_NUMBER-1:0] told_found, told_drawn;
  output drops;
  output [SPRITE_NUMBER-1:0] drop_number;
  output [1:0] drop_reason;
  // the drawing side
  input reads, read_turn;
  input [7:0] read_slot;
  output reg [RECORD-1:0] read_record;
  output reg [SPRITE_NUMBER-1:0] read_number;
  output reg [SPRITE_ROW-1:0] read_dots;

  // accesses of a record that the scan needs: a bit of y, size or enable is in them
  function [31:0] parts_of;
    input [1023:0] places;
    integer n, bit_of, byte_of;
    begin
      parts_of = 0;
      for (n = 0; n < 32; n = n + 1) begin
        bit_of = places[32*n +: 32];
        if (bit_of >= 0) begin
          byte_of = MEMORY_BIG_END_FIRST ? SPRITES_RECORD_BYTES - 1 - bit_of / 8 : bit_of / 8;
          parts_of = parts_of | (32'd1 << (byte_of / W));
        end
      end
    end
  endfunction
  localparam [31:0] SCANNED = parts_of(SPRITES_Y_PLACES) | parts_of(SPRITES_SIZE_PLACES)
      | parts_of(SPRITES_ENABLE_PLACES);
  localparam [31:0] ALL = (32'd1 << ACCESSES) - 1;
  localparam [31:0] OTHERS = ALL & ~SCANNED;

  // what was in force at dot 0
  reg [23:0] scan_table, table_at;
  reg [24*MOST_PLANES-1:0] scan_bases, bases_at;
  wire [24*MOST_PLANES-1:0] bases;
  genvar k;
  generate
    for (k = 0; k < MOST_PLANES; k = k + 1) begin : a_base
      localparam integer OWN = SPRITES_BASES[32*k +: 32];
      assign bases[24*k +: 24] = OWN < 0 ? 24'd0 : controls[32*(OWN < 0 ? 0 : OWN) +: 24];
    end
  endgenerate
  reg scan_enabled;
  wire [31:0] table_control = SPRITES_TABLE < 0 ? 32'd0
      : controls[32*(SPRITES_TABLE < 0 ? 0 : SPRITES_TABLE) +: 32];
  wire enabled = SPRITES_ENABLE < 0 ? 1'b1 : controls[32*(SPRITES_ENABLE < 0 ? 0 : SPRITES_ENABLE)];

  // the lists of four lines, in the order of the walk but where a table in memory is walked from its end
  localparam integer BACKWARD = SPRITES_IN_MEMORY && SPRITES_FRONT_FIRST != SPRITES_BACK_DROPPED;
  localparam integer LISTED = RECORD + 8 + SPRITE_NUMBER;
  reg [LISTED-1:0] list [0:(4<<MANY)-1];
  reg [MANY-1:0] found [0:3];
  reg [3:0] dropping;
  assign dropped = dropping;

  // the scan of a table in memory
  reg active, scanning;
  reg [SPRITE_NUMBER-1:0] scan_number;
  reg [31:0] part_left;                // accesses of the record still to make, in scan or walk
  reg [RECORD-1:0] gathered;
  reg [RECORD-1:0] with_value;
  reg [31:0] part_bit;
  reg [7:0] part;
  integer i;
  always @* begin
    part = 0;
    part_bit = 1;
    with_value = gathered;
    if (of_table && active) begin
    for (i = ACCESSES - 1; i >= 0; i = i - 1)
      if (part_left[i]) part = i;
    part_bit = 32'd1 << part;
    for (i = 0; i < ACCESSES; i = i + 1)
      if (part == i)
        with_value[(MEMORY_BIG_END_FIRST ? RECORD - BUS_BITS * (i + 1) : BUS_BITS * i) +: BUS_BITS] = value;
    end
  end
  wire scan_last = (part_left & ~part_bit) == 0;
  reg [15:0] next_of_fetch;
  wire scan_found;
  wire [7:0] scan_row;
  sprite_found look (.record(with_value), .line(next_of_fetch), .found(scan_found), .row(scan_row));

  // the walk
  reg [MANY-1:0] walked;
  reg [15:0] dots;                     // of the sprites walked
  wire [MANY-1:0] walks_at = BACKWARD ? found[turn] - 1'b1 - walked : walked;
  wire [LISTED-1:0] entry = list[{turn, walks_at}];
  wire [RECORD-1:0] record = (entry[LISTED-1 -: RECORD]) | (SPRITES_IN_MEMORY ? gathered : {RECORD{1'b0}});
  wire [7:0] row = entry[SPRITE_NUMBER +: 8];
  wire [SPRITE_NUMBER-1:0] number = entry[SPRITE_NUMBER-1:0];
  wire [31:0] pattern, size;
  wire flip_y;
  /* verilator lint_off PINCONNECTEMPTY */
  sprite_fields fields (.record(record), .x(), .y(), .pattern(pattern), .flip_x(), .flip_y(flip_y),
    .bank(), .size(size), .group(), .enable(), .bias(), .tests());
  /* verilator lint_on PINCONNECTEMPTY */
  wire [31:0] width = SPRITE_SIZES_WIDTH[32*size[3:0] +: 32];
  wire [31:0] row_accesses = SPRITE_SIZES_ROW_ACCESSES[32*size[3:0] +: 32];
  reg [7:0] column, access;
  wire [23:0] dots_at;
  wire [7:0] columns;
  sprite_row sprite_row (
    .pattern(pattern), .size(size), .flip_y(flip_y), .row(row), .column(column), .access(access),
    .bases(bases_at), .at(dots_at), .columns(columns));
`ifdef FAULT_SPRITE_LIMIT
  localparam integer LIMIT = SPRITES_PER_LINE - 1;
`else
  localparam integer LIMIT = SPRITES_PER_LINE;
`endif
  wire fits = (SPRITES_PER_LINE < 0 || walked < LIMIT)
      && (SPRITES_DOTS_PER_LINE < 0 || dots + width <= SPRITES_DOTS_PER_LINE);
  wire walks = active && !scanning && walked < found[turn] && fits;
  wire of_record = SPRITES_IN_MEMORY && part_left != 0;
  assign ask = active && scanning || walks;
  assign of_table = scanning || of_record;
  wire [31:0] record_at = table_at + (scanning ? scan_number : number) * SPRITES_RECORD_BYTES
      + part * W;
  wire [7:0] lane = dots_at % W;       // of a row that is smaller than an access
  assign address = of_table ? record_at[23:0] : dots_at - lane;

  wire row_last = access + 8'd1 == row_accesses && column + 8'd1 == columns;
  wire sprite_last = served && !scanning && !of_record && row_last;

  // rows and records of the sprites drawn, of two lines
  reg [SPRITE_ROW-1:0] rows [0:(2<<SLOT_BITS)-1];
  reg [RECORD+SPRITE_NUMBER-1:0] drawn_records [0:(2<<SLOT_BITS)-1];
  wire [SLOT_BITS:0] slot_at = {turn[0], walked[SLOT_BITS-1:0]};
  wire [SLOT_BITS:0] slot_read = {read_turn, read_slot[SLOT_BITS-1:0]};
  wire [7:0] word = column * row_accesses + access;
  wire puts_dots = served && !of_table;
  always @(posedge clk) if (puts_dots) rows[slot_at][BUS_BITS*word +: BUS_BITS] <= bytes >> 8*lane;
  always @(posedge clk) if (sprite_last) drawn_records[slot_at] <= {record, number};
  always @(posedge clk) if (reads) begin
    read_dots <= rows[slot_read];
    {read_record, read_number} <= drawn_records[slot_read];
  end

  // the lists
  wire scan_lists = served && scanning && scan_last && scan_found;
  wire puts = SPRITES_IN_MEMORY ? scan_lists : listed;
  wire [1:0] put_turn = SPRITES_IN_MEMORY ? turn : scan_turn;
  wire [MANY+1:0] put_at = {put_turn, found[put_turn]};
  always @(posedge clk)
    if (puts) list[put_at] <= SPRITES_IN_MEMORY ? {with_value, scan_row, scan_number}
        : {list_record, list_row, list_number};

  // telling of the line before
  reg [1:0] told_turn;
  reg [MANY-1:0] told_next, told_end;
  reg [15:0] told_dots;
  wire [MANY-1:0] told_at = BACKWARD ? told_end - 1'b1 - told_next : told_next;
  wire [LISTED-1:0] told_entry = list[{told_turn, told_at}];
  wire [31:0] told_size;
  /* verilator lint_off PINCONNECTEMPTY */
  sprite_fields told_fields (.record(told_entry[LISTED-1 -: RECORD]), .x(), .y(), .pattern(), .flip_x(),
    .flip_y(), .bank(), .size(told_size), .group(), .enable(), .bias(), .tests());
  /* verilator lint_on PINCONNECTEMPTY */
  wire [31:0] told_width = SPRITE_SIZES_WIDTH[32*told_size[3:0] +: 32];
  wire telling = kind == LINE_FRAME && line < FRAME_HEIGHT;
  assign drops = told_next != told_end && telling;
  assign drop_number = told_entry[SPRITE_NUMBER-1:0];
  assign drop_reason = SPRITES_PER_LINE >= 0 && told_next >= SPRITES_PER_LINE ? 2'd0
      : SPRITES_DOTS_PER_LINE >= 0 && told_dots + told_width > SPRITES_DOTS_PER_LINE ? 2'd1 : 2'd2;

  wire fetches = begin_kind != LINE_IDLE && next_line < FRAME_HEIGHT && scan_enabled;
  wire [MANY-1:0] found_now = found[turn] + {{(MANY-1){1'b0}}, scan_lists};
  wire [MANY-1:0] walked_now = walked + {{(MANY-1){1'b0}}, sprite_last};
  wire works = reset || tells || scan_begins || puts || told_next != told_end || fetch_begin || served;
  always @(posedge clk)
    if (!works) begin
    end else if (reset) begin
      active <= 0; scanning <= 0; walked <= 0; dots <= 0; column <= 0; access <= 0;
      scan_number <= 0; part_left <= 0; gathered <= 0; dropping <= 0; tells <= 0;
      told_found <= 0; told_drawn <= 0; told_turn <= 0; told_next <= 0; told_end <= 0; told_dots <= 0;
      found[0] <= 0; found[1] <= 0; found[2] <= 0; found[3] <= 0;
      scan_enabled <= 0; scan_table <= 0; scan_bases <= 0; table_at <= 0; bases_at <= 0;
      next_of_fetch <= 0;
    end else begin
      tells <= 0;
      if (scan_begins) begin
        scan_enabled <= enabled;
        scan_table <= table_control[23:0];
        scan_bases <= bases;
        found[scan_turn] <= 0;
      end
      if (puts) found[put_turn] <= found[put_turn] + 1'b1;
      if (told_next != told_end) begin
        told_next <= told_next + 1'b1;
        told_dots <= told_dots + told_width[15:0];
      end
      if (fetch_begin) begin
        active <= fetches;
        scanning <= fetches && SPRITES_IN_MEMORY;
        scan_number <= 0;
        part_left <= SPRITES_IN_MEMORY ? SCANNED : 32'd0;
        gathered <= 0;
        walked <= 0; dots <= 0; column <= 0; access <= 0;
        table_at <= scan_table;
        bases_at <= scan_bases;
        next_of_fetch <= next_line;
        // of the line that ends
        dropping[turn + 2'd1] <= active && walked_now != found_now;
        tells <= 1;
        told_found <= active ? found_now : {SPRITE_NUMBER{1'b0}};
        told_drawn <= active ? walked_now : {SPRITE_NUMBER{1'b0}};
        told_turn <= turn;
        told_next <= walked_now;
        told_end <= active ? found_now : walked_now;
        told_dots <= sprite_last ? dots + width[15:0] : dots;
      end else if (served) begin
        if (scanning) begin
          if (scan_last) begin
            gathered <= 0;
            scan_number <= scan_number + 1'b1;
            part_left <= SCANNED;
            if (scan_number == SPRITES_COUNT - 1) begin
              scanning <= 0;
              part_left <= OTHERS;
            end
          end else begin
            gathered <= with_value;
            part_left <= part_left & ~part_bit;
          end
        end else if (of_record) begin
          gathered <= with_value;
          part_left <= part_left & ~part_bit;
        end else if (row_last) begin
          walked <= walked + 1'b1;
          dots <= dots + width[15:0];
          column <= 0;
          access <= 0;
          gathered <= 0;
          part_left <= SPRITES_IN_MEMORY ? OTHERS : 32'd0;
        end else if (access + 8'd1 == row_accesses) begin
          access <= 0;
          column <= column + 8'd1;
        end else access <= access + 8'd1;
      end
    end
endmodule
