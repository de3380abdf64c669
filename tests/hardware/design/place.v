// The fetches of one place of the time table.
//
// It knows the place PLACE: the modes it serves, when it may ask, how many accesses a group takes
// and where they lie. Groups wait in a queue in the order in which they show. The first asks for
// slots, leaves when its accesses are made or can no longer be made in time, and goes with its
// bytes into the queue from which the picture is drawn.
//
// A place of patterns or glyphs needs the group's cell first. It listens to the place of the cells
// and keeps what that tells in a ring, by the number of the group among that place's.
module place (
    clk, reset, begins, mode, dot, row, offset, turn, cell_number, number,
    slot, slot_at, slot_end, fetch_turn, tick, controls, ask, address, served, bytes,
    tells, told, cells_tell, cells_told, take, kept, missed
);
  `include "design.vh"
  parameter integer PLACE = 0;
  input clk, reset;
  // the scanner's side: a group begins
  input begins;
  input [3:0] mode;
  input [15:0] dot;
  input [5:0] row;
  input [23:0] offset;
  input turn;
  input [COUNT_BITS-1:0] cell_number;  // the number of its cell at the place of the cells
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
  input cells_tell;
  input [16:0] cells_told;
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
  localparam integer Q = DOT_BITS + (WHEN == WHEN_IN_TIME ? 0 : 1);
  localparam integer AHEAD = WHEN == WHEN_IN_TIME ? LEAD + 8 : FRAME_WIDTH + 8;
  localparam integer RING = $clog2(AHEAD);
  localparam integer EARLY = (BLANK_DOTS - LEAD) * MEMORY_RATE_ACCESSES;

  // accesses that a group of mode n takes here; 0 where the mode is served elsewhere
  function integer accesses;
    input integer n;
    integer group, each;
    begin
      accesses = 0;
      group = MODES_GROUP_DOTS[32*n +: 32];
      each = group / 8 / W > 0 ? group / 8 / W : 1;
      case (WHAT)
        WHAT_CELLS: if (MODES_PLACE_CELLS[32*n +: 32] == PLACE)
          accesses = MODES_CELL_BYTES[32*n +: 32] < W ? 1 : MODES_CELL_BYTES[32*n +: 32] / W;
        WHAT_PATTERN: if (MODES_PLACE_PATTERN[32*n +: 32] == PLACE)
          accesses = MODES_ROW_ACCESSES[32*n +: 32];
        WHAT_GLYPHS: if (MODES_PLACE_GLYPHS[32*n +: 32] == PLACE) accesses = 1;
        WHAT_COLOURS: if (MODES_PLACE_COLOURS[32*n +: 32] == PLACE) begin
          accesses = group / MODES_BLOCK_X[32*n +: 32] * MODES_COLOUR_BYTES[32*n +: 32] / W;
          if (accesses == 0) accesses = 1;
        end
        default: if (MODES_PLACE_BITMAP[32*n +: 32] == PLACE)
          accesses = MODES_PLANES[32*n +: 32] == PLANES_PACKED
              ? group * MODES_BITS_PER_DOT[32*n +: 32] / 8 / W : MODES_BITS_PER_DOT[32*n +: 32] * each;
      endcase
    end
  endfunction
  function integer most_accesses;
    input unused;
    integer n;
    begin
      most_accesses = 1;
      for (n = 0; n < MODES; n = n + 1)
        if (accesses(n) > most_accesses) most_accesses = accesses(n);
    end
  endfunction
  localparam integer DATA = most_accesses(1'b0) * BUS_BITS;

  // which modes are served here, and how many accesses a group takes
  wire [MODES-1:0] serves;
  wire [8*MODES-1:0] counts;
  reg [24*MODES-1:0] addresses;
  wire mine = begins && serves[mode];

  localparam integer A = $clog2(MEMORY_SIZE);
  localparam integer JOB = 1 + 4 + DOT_BITS + (HANGS ? 6 + Q + 1 : A);
  wire [JOB-1:0] job, job_begins;
  wire there;
  wire leave;
  queue #(.WIDTH(JOB), .ADDRESS(Q)) jobs (
    .clk(clk), .reset(reset), .put(mine), .entry(job_begins), .take(leave), .first(job), .there(there));
  wire job_turn = job[JOB-1];
  wire [3:0] job_mode = job[JOB-2 -: 4];
  wire [15:0] due = {{(16-DOT_BITS){1'b0}}, job[JOB-6 -: DOT_BITS]};
  wire [5:0] job_row;
  wire [A-1:0] job_offset;
  wire [Q:0] job_cell;
  generate
    if (HANGS) begin : a_hanging_job
      assign job_begins = {turn, mode, dot[DOT_BITS-1:0], row, cell_number[Q:0]};
      assign job_row = job[Q+1 +: 6];
      assign job_cell = job[Q:0];
      assign job_offset = {A{1'b0}};
    end else begin : a_job
      assign job_begins = {turn, mode, dot[DOT_BITS-1:0], offset[A-1:0]};
      assign job_row = 6'd0;
      assign job_cell = {(Q+1){1'b0}};
      assign job_offset = job[A-1:0];
    end
  endgenerate

  // the cell, of a place that hangs on one
  wire cell_there, cell_missed;
  wire [15:0] cell_word;
  generate
    if (HANGS) begin : cells
      reg [16:0] ring [0:(1<<RING)-1];
      reg [Q:0] count;
      wire [Q:0] ahead = count - job_cell;
      wire [16:0] ours = ring[job_cell[RING-1:0]];
      wire hears = reset || cells_tell;
      always @(posedge clk) if (hears) begin
        if (cells_tell) ring[count[RING-1:0]] <= cells_told;
        if (reset) count <= 0;
        else if (cells_tell) count <= count + 1'b1;
      end
      // the cell that leaves in this very tick can be used in the next
      assign cell_there = ahead != 0 && !ahead[Q];
      assign cell_missed = ours[16];
      assign cell_word = ours[15:0];
    end else begin : no_cells
      assign cell_there = 1'b1;
      assign cell_missed = 1'b0;
      assign cell_word = 16'd0;
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
      localparam integer OF_CELLS = MODES_PLACE_CELLS[32*m +: 32];
      localparam integer OF_PATTERN = MODES_PLACE_PATTERN[32*m +: 32];
      localparam integer OF_GLYPHS = MODES_PLACE_GLYPHS[32*m +: 32];
      localparam integer OF_COLOURS = MODES_PLACE_COLOURS[32*m +: 32];
      localparam integer OF_BITMAP = MODES_PLACE_BITMAP[32*m +: 32];
      localparam integer HERE = WHAT == WHAT_CELLS ? OF_CELLS : WHAT == WHAT_PATTERN ? OF_PATTERN
          : WHAT == WHAT_GLYPHS ? OF_GLYPHS : WHAT == WHAT_COLOURS ? OF_COLOURS : OF_BITMAP;
      assign serves[m] = HERE == PLACE;
      if (HERE != PLACE) begin : other
        assign counts[8*m +: 8] = 8'd0;
        initial addresses[24*m +: 24] = 24'd0;
      end else begin : ours
        localparam integer GROUP = MODES_GROUP_DOTS[32*m +: 32];
        localparam integer PLANES = MODES_PLANES[32*m +: 32];
        localparam integer TILE_Y = MODES_TILE_Y[32*m +: 32];
        localparam integer PATTERN_BYTES = MODES_PATTERN_BYTES[32*m +: 32];
        localparam integer ROW_STEP = MODES_ROW_STEP[32*m +: 32];
        localparam integer ROW_DOTS = MODES_ROW_DOTS[32*m +: 32];
        localparam integer MAP = MODES_MAP[32*m +: 32];
        localparam integer COLOURS = MODES_COLOURS[32*m +: 32];
        localparam integer BASE = MODES_BASES[32*(m * MOST_PLANES) +: 32];
        // of a bitmap in planes: accesses of a group in each
        localparam integer EACH = GROUP / 8 / W > 0 ? GROUP / 8 / W : 1;
        assign counts[8*m +: 8] = accesses(m);
        wire [23:0] spot;
        always @* addresses[24*m +: 24] = spot;
        if (WHAT == WHAT_CELLS) begin : cell_at
          assign spot = controls[32*MAP +: 24] + job_offset + done * W;
        end else if (WHAT == WHAT_COLOURS) begin : colour_at
          assign spot = controls[32*COLOURS +: 24] + job_offset + done * W;
        end else if (WHAT == WHAT_BITMAP && PLANES == PLANES_PACKED) begin : dots_at
          assign spot = controls[32*BASE +: 24] + job_offset + done * W;
        end else if (WHAT == WHAT_BITMAP && PLANES == PLANES_BY_ROW) begin : rows_at
          assign spot = controls[32*BASE +: 24] + job_offset
              + done / EACH * (ROW_DOTS / 8) + done % EACH * W;
        end else if (WHAT == WHAT_BITMAP) begin : planes_at
          wire [24*MOST_PLANES-1:0] bases;
          genvar p;
          for (p = 0; p < MOST_PLANES; p = p + 1) begin : a_plane
            localparam integer OWN = MODES_BASES[32*(m * MOST_PLANES + p) +: 32];
            assign bases[24*p +: 24] = OWN < 0 ? 24'd0 : controls[32*(OWN < 0 ? 0 : OWN) +: 24];
          end
          assign spot = bases[24*(done / EACH) +: 24] + job_offset + done % EACH * W;
        end else begin : pattern_at
          wire [15:0] pattern;
          wire flip_y;
          genvar b;
          for (b = 0; b < 16; b = b + 1) begin : a_bit
            localparam integer BIT = WHAT == WHAT_GLYPHS ? CELLS_CHARACTER[32*(16*m+b) +: 32]
                : CELLS_PATTERN[32*(16*m+b) +: 32];
            assign pattern[b] = BIT < 0 ? 1'b0 : cell_word[BIT < 0 ? 0 : BIT];
          end
          localparam integer FLIP = CELLS_FLIP_Y[32*16*m +: 32];
          assign flip_y = FLIP < 0 ? 1'b0 : cell_word[FLIP < 0 ? 0 : FLIP];
          if (WHAT == WHAT_GLYPHS) begin : a_glyph
            assign spot = controls[32*BASE +: 24] + pattern * PATTERN_BYTES + job_row;
          end else begin : a_row
            wire [5:0] flipped = flip_y ? TILE_Y - 1 - job_row : job_row;
            assign spot = controls[32*BASE +: 24] + pattern * PATTERN_BYTES + flipped * ROW_STEP
                + done * W;
          end
        end
      end
    end
  endgenerate
  wire [23:0] wanted = addresses[24*job_mode +: 24];
  wire [7:0] lane = wanted % W;        // of what is smaller than an access
  always @* address = wanted - lane;   // the chip takes it modulo the memory's size

  // what has come
  reg [DATA-1:0] data;
  reg [DATA-1:0] data_next;
  always @* begin
    data_next = data;
    if (served) begin
      if (done == 0) data_next[BUS_BITS-1:0] = bytes >> 8*lane;
      else data_next[BUS_BITS*done +: BUS_BITS] = bytes;
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
