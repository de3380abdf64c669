// The fetches of one place of the time table.
//
// It knows the place PLACE: the modes it serves, when it may ask, how many accesses a group takes
// and where they lie. Groups wait in a queue in the order in which they show. The first asks for
// slots, leaves when its accesses are made or can no longer be made in time, and goes with its
// bytes into the queue from which the picture is drawn.
//
// A place of patterns or glyphs needs the group's cell first. It listens to the places of its modes'
// cells and keeps what these tell in a ring each, by the number of the group among that place's.
module place (
    clk, reset, begins, mode, dot, row, begin_address, begin_controls, turn, numbers, number,
    slot, slot_at, slot_end, fetch_turn, tick, controls, ask, address, served, bytes,
    tells, told, all_tell, all_told, take, kept, missed
);
  `include "design.vh"
  parameter integer PLACE = 0;
  input clk, reset;
  // the scanner's side: a group begins
  input begins;
  input [3:0] mode;
  input [15:0] dot;
  input [5:0] row;
  input [23:0] begin_address;          // of the cell, or of the group's dots
  input [32*CONTROLS-1:0] begin_controls; // in force at that dot
  input turn;
  input [COUNT_BITS*PLACES-1:0] numbers; // groups that have begun at each place
  output reg [COUNT_BITS-1:0] number;  // groups that have begun here
  // the memory's side
  input [15:0] slot, slot_at;
  input slot_end, fetch_turn, tick;
  input [32*CONTROLS-1:0] controls;    // in force on the memory's line
  output ask;
  output reg [23:0] address;
  input served;                        // this slot is the place's
  input [BUS_BITS-1:0] bytes;          // what the memory gives, the lowest address in the low byte
  // what a place of cells tells when a group leaves: missed, and the cell
  output reg tells;
  output reg [16:0] told;
  input [PLACES-1:0] all_tell;         // of all places
  input [17*PLACES-1:0] all_told;
  // the picture's side
  input take;
  output [KEPT-1:0] kept;              // the top bit says that an access was missed
  output reg [7:0] missed;             // accesses missed in this tick

  localparam integer WHAT = PLACES_WHAT[32*PLACE +: 32];
  localparam integer WHEN = PLACES_WHEN[32*PLACE +: 32];
  localparam integer LEAD = PLACES_LEAD[32*PLACE +: 32];
  localparam integer EVERY = PLACES_EVERY[32*PLACE +: 32];
  localparam integer AT_FIRST = PLACES_AT_FIRST[32*PLACE +: 32];
  localparam integer AT_COUNT = PLACES_AT_COUNT[32*PLACE +: 32];
  localparam integer HANGS = WHAT == WHAT_PATTERN || WHAT == WHAT_GLYPHS;
  localparam integer W = MEMORY_ACCESS_BYTES;
  // groups of a line, and those of the next that are fetched before the line has shown
  localparam integer HOLDS = WHEN == WHEN_IN_TIME && LEAD <= BLANK_DOTS ? FRAME_WIDTH + 8 : 2 * FRAME_WIDTH + 8;
  localparam integer Q = $clog2(HOLDS);
  localparam integer EARLY = (BLANK_DOTS - LEAD) * MEMORY_RATE_ACCESSES;

  // what of all modes is served here
  function serves_mode;
    input integer n;
    serves_mode = WHAT == WHAT_CELLS ? MODES_PLACE_CELLS[32*n +: 32] == PLACE
        : WHAT == WHAT_PATTERN ? MODES_PLACE_PATTERN[32*n +: 32] == PLACE
        : WHAT == WHAT_GLYPHS ? MODES_PLACE_GLYPHS[32*n +: 32] == PLACE
        : WHAT == WHAT_COLOURS ? MODES_PLACE_COLOURS[32*n +: 32] == PLACE
        : MODES_PLACE_BITMAP[32*n +: 32] == PLACE;
  endfunction
  function integer most_served;        // accesses of a group
    input integer least;
    integer n;
    begin
      most_served = least;
      for (n = 0; n < MODES; n = n + 1)
        if (serves_mode(n) && accesses_of(n, WHAT) > most_served) most_served = accesses_of(n, WHAT);
    end
  endfunction
  localparam integer DATA = most_served(1) * BUS_BITS;
  // how many addresses of dots go with a group, because they may change in mid-line
  function integer bases_kept;
    input integer least;
    integer n, plane, control;
    begin
      bases_kept = least;
      for (n = 0; n < MODES; n = n + 1)
        for (plane = 0; plane < MOST_PLANES; plane = plane + 1) begin
          control = MODES_BASES[32*(MOST_PLANES*n+plane) +: 32];
          if (serves_mode(n) && control >= 0)
            if (CONTROLS_FIELD[32*control +: 32] != ~32'd0)
              if (FIELDS_EFFECT[32*CONTROLS_FIELD[32*control +: 32] +: 32] == EFFECT_AT_ONCE)
                bases_kept = MODES_PLANES[32*n +: 32] == PLANES_APART ? MOST_PLANES
                    : HANGS && bases_kept == 0 ? 1 : bases_kept;
        end
    end
  endfunction
  localparam integer BASES = WHAT == WHAT_CELLS || WHAT == WHAT_COLOURS ? 0 : bases_kept(0);

  // which modes are served here, and how many accesses a group takes
  wire [MODES-1:0] serves;
  wire [8*MODES-1:0] counts;
  wire mine = begins && serves[mode];

  localparam integer A = ADDRESS_BITS;
  localparam integer B = BASES > 0 ? A * BASES : 1;
  localparam integer JOB = 1 + 4 + DOT_BITS + (HANGS ? 6 + Q + 1 : A) + B;
  wire [JOB-1:0] job, job_begins;
  wire there;
  wire leave;
  queue #(.WIDTH(JOB), .ADDRESS(Q)) jobs (
    .clk(clk), .reset(reset), .put(mine), .entry(job_begins), .take(leave), .first(job), .there(there));
  wire job_turn = job[JOB-1];
  wire [3:0] job_mode = job[JOB-2 -: 4];
  wire [15:0] due = {{(16-DOT_BITS){1'b0}}, job[JOB-6 -: DOT_BITS]};
  wire [5:0] job_row;
  wire [A-1:0] job_address;
  wire [Q:0] job_cell;
  wire [B-1:0] bases_begin;
  wire [24*MOST_PLANES-1:0] bases_now, bases_job;
  mode_bases begin_bases (.mode(mode), .controls(begin_controls), .bases(bases_now));
  generate
    if (HANGS) begin : a_hanging_job
      wire [7:0] place_of_cells = MODES_PLACE_CELLS[32*mode +: 8];
      wire [COUNT_BITS-1:0] number_of_cell = numbers[COUNT_BITS*place_of_cells +: COUNT_BITS];
      assign job_begins = {turn, mode, dot[DOT_BITS-1:0], row, number_of_cell[Q:0], bases_begin};
      assign job_row = job[B+Q+1 +: 6];
      assign job_cell = job[B +: Q+1];
      assign job_address = {A{1'b0}};
    end else begin : a_job
      assign job_begins = {turn, mode, dot[DOT_BITS-1:0], begin_address[A-1:0], bases_begin};
      assign job_row = 6'd0;
      assign job_cell = {(Q+1){1'b0}};
      assign job_address = job[B +: A];
    end
    if (BASES > 0) begin : bases_of_job
      genvar k;
      for (k = 0; k < MOST_PLANES; k = k + 1) begin : a_base
        if (k < BASES) begin : kept
          assign bases_begin[A*k +: A] = bases_now[24*k +: A];
          assign bases_job[24*k +: 24] = {{(24-A){1'b0}}, job[A*k +: A]};
        end else begin : unkept
          assign bases_job[24*k +: 24] = 24'd0;
        end
      end
    end else begin : bases_of_line
      assign bases_begin = 1'b0;
      mode_bases fetch_bases (.mode(job_mode), .controls(controls), .bases(bases_job));
    end
  endgenerate

  // the cell, of a place that hangs on one
  wire cell_there, cell_missed;
  wire [15:0] cell_word;
  function hangs_on;
    input integer number;
    integer n;
    begin
      hangs_on = 0;
      for (n = 0; n < MODES; n = n + 1)
        if (HANGS && serves_mode(n) && MODES_PLACE_CELLS[32*n +: 32] == number) hangs_on = 1;
    end
  endfunction
  genvar c;
  generate
    for (c = 0; c < PLACES; c = c + 1) begin : a_cell
      wire [17:0] ours;                // it is there, it was missed, its word
      if (hangs_on(c)) begin : hangs
        cell_ring #(.CELLS(c), .NUMBER(Q + 1)) ring (
          .clk(clk), .reset(reset), .tells(all_tell[c]), .told(all_told[17*c +: 17]), .wanted(job_cell),
          .ours(ours));
      end else begin : alone
        assign ours = 18'd0;
      end
    end
    if (HANGS) begin : cells
      wire [18*PLACES-1:0] rings;
      for (c = 0; c < PLACES; c = c + 1) begin : a_ring
        assign rings[18*c +: 18] = a_cell[c].ours;
      end
      wire [7:0] place_of_cells = MODES_PLACE_CELLS[32*job_mode +: 8];
      assign {cell_there, cell_missed, cell_word} = rings[18*place_of_cells +: 18];
    end else begin : no_cells
      assign {cell_there, cell_missed, cell_word} = {1'b1, 1'b0, 16'd0};
    end
  endgenerate

  // asking
  reg [7:0] done;                      // accesses of the first group that are made
  wire [7:0] count = counts[8*job_mode +: 8];
  wire present = there && job_turn == fetch_turn;
  reg [31:0] end_of_slot, shows_at;
  wire pattern_hit;
  slot_list #(.EVERY(EVERY), .COUNT(AT_COUNT), .LIST(PLACES_AT >> (32*(AT_FIRST < 0 ? 0 : AT_FIRST))))
    slots (.slot(slot), .hit(pattern_hit));
  reg can, late, late_next;
  wire [15:0] here = present ? slot_at : 16'd0;
  always @* begin
    can = 0;
    late = 0;
    late_next = 0;
    end_of_slot = 0;
    shows_at = 0;
    if (present) begin
      end_of_slot = here + MEMORY_RATE_DOTS;
      shows_at = (due + BLANK_DOTS) * MEMORY_RATE_ACCESSES;
      if (WHEN == WHEN_BLANKING) begin
        can = here < MEMORY_BLANK_SLOTS * MEMORY_RATE_DOTS;
        late = !can;
        late_next = here + MEMORY_RATE_DOTS >= MEMORY_BLANK_SLOTS * MEMORY_RATE_DOTS;
      end else begin
        late = end_of_slot > shows_at;
        late_next = end_of_slot + MEMORY_RATE_DOTS > shows_at;
`ifdef FAULT_SLOT_LATE
        can = !late && $signed({1'b0, here}) > due * MEMORY_RATE_ACCESSES + EARLY;
`else
        can = !late && $signed({16'd0, here}) >= $signed(due * MEMORY_RATE_ACCESSES) + EARLY;
`endif
      end
    end
  end
  wire waits_cell_missed = present && HANGS && cell_there && cell_missed;
  assign ask = can && cell_there && !cell_missed && pattern_hit;

  // where the next access lies
  genvar m;
  generate
    for (m = 0; m < MODES; m = m + 1) begin : a_mode
      assign serves[m] = serves_mode(m);
      assign counts[8*m +: 8] = serves_mode(m) ? accesses_of(m, WHAT) : 0;
    end
  endgenerate
  wire [23:0] wanted;
  spots #(.PLACE(PLACE)) spots (
    .mode(job_mode), .at({{(24-A){1'b0}}, job_address}), .row(job_row), .cell_word(cell_word), .done(done),
    .bases(bases_job), .wanted(wanted));
  wire [7:0] lane = wanted % W;        // of what is smaller than an access
  always @* address = wanted - lane;   // the chip takes it modulo the memory's size

  // what has come
  reg [DATA-1:0] data;
  reg [DATA-1:0] data_next;
  always @* begin
    data_next = data;
    if (served) begin
      data_next[BUS_BITS*done +: BUS_BITS] = bytes >> 8*lane;
    end
  end
  wire [DATA+15:0] came = {16'd0, data_next};  // as wide as a cell at least
  wire one_byte = MODES_CELL_BYTES[32*job_mode +: 32] == 1;  // modes of one place may differ in it
  wire last = served && done + 8'd1 == count;
  wire gives_up = waits_cell_missed
      || (slot_end ? late_next : tick && late) && present && !last;
  assign leave = last || gives_up;

  always @* begin
    tells = leave;
    told = 0;
    missed = 0;
    if (leave) begin
      told[16] = gives_up;
      told[15:0] = one_byte ? {8'd0, came[7:0]}
          : MEMORY_BIG_END_FIRST ? {came[7:0], came[15:8]} : came[15:0];
      if (gives_up) missed = count - done - (served ? 8'd1 : 8'd0);
    end
  end

  wire works = reset || mine || leave || served;
  always @(posedge clk)
    if (!works) begin
    end else if (reset) begin
      number <= 0;
      done <= 0;
      data <= 0;
    end else begin
      if (mine) number <= number + 1'b1;
      if (leave) begin
        done <= 0;
        data <= 0;
      end else if (served) begin
        data <= data_next;
        done <= done + 8'd1;
      end
    end

  wire kept_there;                     // always, when the picture takes one
  wire [DATA:0] result;
  queue #(.WIDTH(DATA + 1), .ADDRESS(Q)) results (
    .clk(clk), .reset(reset), .put(leave), .entry({gives_up, data_next}),
    .take(take), .first(result), .there(kept_there));
  assign kept = {result[DATA], {(KEPT-1-DATA){1'b0}}, result[DATA-1:0]};
endmodule
