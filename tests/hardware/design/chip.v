// The chip.
//
// It puts the parts together: the beam; registers and ports on the CPU's bus; the scanner, which
// walks the dots with the registers in force; the memory's places and slots, a line later; and the
// picture, two lines later. A tick passes on a clock with `tick`, unless writes of the past have to
// be done first; the CPU may write on any clock, and a write counts from the scanner's dot on.
// The trace_ outputs tell what the parts do, for a test bench.
module chip (
    clk, reset, tick, hold,
    bus_write, bus_read, bus_address, bus_data, bus_value,
    transfer_begins, transfer_address, transfer_step, transfer_count, transfer_byte, transfer_takes,
    memory_word, memory_write, memory_data, memory_value,
    dot_shows, dot_entry, dot_colour,
    idle, ticks, scan_line, scan_dot, scan_kind, fetch_begins,
    trace_source, trace_rung, trace_sprite, trace_line, trace_dot,
    trace_access, trace_access_line, trace_slot, trace_client, trace_address, trace_value,
    trace_missed, trace_missed_line,
    trace_counts, trace_found, trace_drawn, trace_drops, trace_drop, trace_reason, trace_sprite_line,
    trace_flags, trace_flag_line, trace_flag_dot, trace_meets, trace_met, trace_met_numbers,
    flags, groups, overflow
);
  `include "design.vh"
  localparam integer N = SPRITE_SLOTS;
  input clk, reset, tick, hold;
  input bus_write, bus_read;
  input [15:0] bus_address;
  input [7:0] bus_data;
  output [7:0] bus_value;
  // a block of bytes that the CPU puts into video memory at its own pace
  input transfer_begins;
  input [23:0] transfer_address;
  input [9:0] transfer_step;
  input [23:0] transfer_count;
  input [7:0] transfer_byte;
  output transfer_takes;
  // video memory, outside
  output [23:0] memory_word;
  output [MEMORY_ACCESS_BYTES-1:0] memory_write;
  output [BUS_BITS-1:0] memory_data;
  input [BUS_BITS-1:0] memory_value;
  // the picture
  output dot_shows;
  output [15:0] dot_entry;
  output [23:0] dot_colour;
  // where it is
  output idle;
  output ticks;                        // a tick passes on this clock
  output [15:0] scan_line, scan_dot;
  output [1:0] scan_kind;
  output fetch_begins;
  output [7:0] trace_source, trace_rung, trace_sprite;
  output [15:0] trace_line, trace_dot;
  output trace_access;
  output [15:0] trace_access_line, trace_slot;
  output reg [7:0] trace_client;
  output [23:0] trace_address;
  output [63:0] trace_value;
  output [8*PLACES-1:0] trace_missed;
  output [15:0] trace_missed_line;
  output trace_counts, trace_drops;
  output [7:0] trace_found, trace_drawn, trace_drop;
  output [1:0] trace_reason;
  output [15:0] trace_sprite_line;
  output [7:0] trace_flags;
  output [15:0] trace_flag_line, trace_flag_dot;
  output trace_meets;
  output [N*N-1:0] trace_met;
  output [8*N-1:0] trace_met_numbers;
  output [7:0] flags, groups;
  output overflow;

  limits limits ();

  // the place of the cells on which a place's groups hang
  function integer cells_of;
    input integer number, what;
    integer n;
    begin
      cells_of = -1;
      for (n = MODES - 1; n >= 0; n = n - 1)
        if ((what == WHAT_PATTERN && MODES_PLACE_PATTERN[32*n +: 32] == number)
            || (what == WHAT_GLYPHS && MODES_PLACE_GLYPHS[32*n +: 32] == number))
          cells_of = MODES_PLACE_CELLS[32*n +: 32];
    end
  endfunction

  // the beam
  wire stall_palette, stall_status;
  assign ticks = tick && !stall_palette && !stall_status;
  wire dot_end, line_end, begins_line, begins_frame, fetch_begin, slot_on, slot_end;
  wire [15:0] dot, line, after_line, fetch_line, fetch_next, slot, slot_at, show_line;
  wire [1:0] kind, turn, fetch_kind, fetch_turn, show_kind, show_turn;
  wire [31:0] slot_now, write_now;
  beam beam (
    .clk(clk), .reset(reset), .tick(ticks), .hold(hold), .dot(dot), .dot_end(dot_end), .line(line),
    .kind(kind), .turn(turn), .line_end(line_end), .begins_line(begins_line),
    .begins_frame(begins_frame), .after_line(after_line), .fetch_begin(fetch_begin),
    .fetch_line(fetch_line), .fetch_kind(fetch_kind), .fetch_turn(fetch_turn),
    .fetch_next(fetch_next), .slot(slot), .slot_at(slot_at), .slot_on(slot_on), .slot_end(slot_end),
    .slot_now(slot_now), .write_now(write_now), .show_line(show_line), .show_kind(show_kind),
    .show_turn(show_turn), .idle(idle));
  assign scan_line = line;
  assign scan_dot = dot;
  assign scan_kind = kind;
  assign fetch_begins = fetch_begin;

  reg [15:0] tick_count;
  always @(posedge clk)
    if (reset) tick_count <= 0;
    else if (ticks) tick_count <= tick_count + 16'd1;

  // the CPU's side
  wire [32*CONTROLS-1:0] controls;
  wire [7:0] register_value;
  registers registers (
    .clk(clk), .reset(reset), .write(bus_write), .address(bus_address), .data(bus_data),
    .begins_line(begins_line), .begins_frame(begins_frame), .controls(controls),
    .read_data(register_value));
  wire to_memory, to_palette, to_sprites;
  wire [23:0] port_at;
  wire [7:0] port_step;
  ports ports (
    .clk(clk), .reset(reset), .write(bus_write), .address(bus_address), .data(bus_data),
    .memory(to_memory), .palette(to_palette), .sprites(to_sprites), .at(port_at), .step(port_step));
  wire at_status = STATUS_ADDRESS >= 0 && bus_address == STATUS_ADDRESS;
  wire at_groups = STATUS_GROUPS >= 0 && bus_address == STATUS_GROUPS;
  assign bus_value = at_status ? flags : at_groups ? groups : register_value;
  wire clears = (STATUS_CLEARED_BY_READ ? bus_read : bus_write) && (at_status || at_groups);
  wire [7:0] cleared = STATUS_CLEARED_BY_READ ? 8'hff : bus_data;

  // the scanner
  wire scans = kind == LINE_FRAME && line < FRAME_HEIGHT && dot < FRAME_WIDTH;
  wire [LAYERS-1:0] shows;
  wire [4*LAYERS-1:0] modes;
  wire [16*LAYERS-1:0] own_lines;
  wire [3:0] ladder;
  say say (.line(line), .controls(controls), .shows(shows), .modes(modes), .own_lines(own_lines),
           .ladder(ladder));
  localparam integer SAYS = SAID * LAYERS + 16 + 4;
  wire [SAID*LAYERS-1:0] said;
  wire [LAYERS-1:0] group_begins;
  wire [4*LAYERS-1:0] group_modes;
  wire [6*LAYERS-1:0] group_rows;
  wire [24*LAYERS-1:0] group_offsets, group_colours;
  reg [15:0] said_dot, said_backdrop;
  reg [3:0] said_ladder;
  reg said_turn, scanned;
  always @(posedge clk) begin
    scanned <= dot_end && scans;
    if (dot_end) begin
      said_dot <= dot;
      said_backdrop <= controls[32*CONTROL_BACKDROP +: 16];
      said_ladder <= ladder;
      said_turn <= turn[0];
    end
  end
  genvar l, p;
  generate
    for (l = 0; l < LAYERS; l = l + 1) begin : a_scan
      scan_layer #(.LAYER(l)) layer (
        .clk(clk), .step(dot_end && scans), .shown(scans), .dot(dot), .controls(controls),
        .shows(shows[l]), .mode(modes[4*l +: 4]), .own_line(own_lines[16*l +: 16]),
        .said(said[SAID*l +: SAID]), .group_begins(group_begins[l]),
        .group_mode(group_modes[4*l +: 4]), .row(group_rows[6*l +: 6]),
        .offset(group_offsets[24*l +: 24]), .colours(group_colours[24*l +: 24]));
    end
  endgenerate

  // what was said of two lines' dots
  reg [SAYS-1:0] sayings [0:(2<<DOT_BITS)-1];
  reg [SAYS-1:0] saying;
  wire shows_dot = dot_end && show_kind == LINE_FRAME && show_line < FRAME_HEIGHT && dot < FRAME_WIDTH;
  always @(posedge clk) if (scanned) sayings[{said_turn, said_dot[DOT_BITS-1:0]}] <= {said, said_backdrop, said_ladder};
  always @(posedge clk) if (shows_dot) saying <= sayings[{show_turn[0], dot[DOT_BITS-1:0]}];

  // the memory's side: places, sprites, the CPU
  reg [32*CONTROLS-1:0] fetch_controls;
  always @(posedge clk) if (fetch_begin) fetch_controls <= controls;
  wire [BUS_BITS-1:0] bytes;           // the lowest address in the low byte
  wire [PLACES-1:0] asks, places, takes;
  reg [24*PLACES-1:0] addresses;
  reg [KEPT*PLACES-1:0] kept;
  wire refresh, cpu, cpu_may, cpu_asks;
  wire [23:0] cpu_address, sprite_address;
  wire [7:0] cpu_value;
  wire sprites_ask, sprites_table;
  wire sprites_serve;
  generate
    for (l = 0; l < MEMORY_ACCESS_BYTES; l = l + 1) begin : a_lane
      localparam integer LANE = MEMORY_BIG_END_FIRST ? MEMORY_ACCESS_BYTES - 1 - l : l;
      assign bytes[8*l +: 8] = memory_value[8*LANE +: 8];
      assign memory_write[LANE] = slot_end && cpu && cpu_address % MEMORY_ACCESS_BYTES == l;
    end
    for (p = 0; p < PLACES; p = p + 1) begin : a_place
      localparam integer LAYER = PLACES_LAYER[32*p +: 32];
      localparam integer WHAT = PLACES_WHAT[32*p +: 32];
      if (WHAT == WHAT_SPRITES) begin : sprites
        assign asks[p] = sprites_ask;
        always @* addresses[24*p +: 24] = sprite_address;
        initial kept[KEPT*p +: KEPT] = {KEPT{1'b0}};
        assign trace_missed[8*p +: 8] = 8'd0;
        assign sprites_serve = slot_end && places[p];
      end else begin : layers
        localparam integer CELLS = cells_of(p, WHAT);
        wire [23:0] own_address;
        wire [KEPT-1:0] own_kept;
        wire own_tells, cells_tell;
        wire [16:0] own_told, cells_told;
        wire [COUNT_BITS-1:0] own_number, cell_number;
        if (CELLS < 0) begin : alone
          assign cells_tell = 1'b0;
          assign cells_told = 17'd0;
          assign cell_number = {COUNT_BITS{1'b0}};
        end else begin : hangs
          assign cells_tell = a_place[CELLS].layers.own_tells;
          assign cells_told = a_place[CELLS].layers.own_told;
          assign cell_number = a_place[CELLS].layers.own_number;
        end
        place #(.PLACE(p)) place (
          .clk(clk), .reset(reset), .begins(group_begins[LAYER]), .mode(group_modes[4*LAYER +: 4]),
          .dot(said_dot), .row(group_rows[6*LAYER +: 6]),
          .offset(WHAT == WHAT_COLOURS ? group_colours[24*LAYER +: 24] : group_offsets[24*LAYER +: 24]),
          .turn(said_turn), .cell_number(cell_number), .number(own_number),
          .slot(slot), .slot_at(slot_at), .slot_end(slot_end), .fetch_turn(fetch_turn[0]), .tick(ticks),
          .controls(fetch_controls), .ask(asks[p]), .address(own_address),
          .served(slot_end && places[p]), .bytes(bytes), .tells(own_tells), .told(own_told),
          .cells_tell(cells_tell), .cells_told(cells_told),
          .take(takes[p]), .kept(own_kept), .missed(trace_missed[8*p +: 8]));
        always @* addresses[24*p +: 24] = own_address;
        always @* kept[KEPT*p +: KEPT] = own_kept;
      end
    end
  endgenerate

  slots slots (
    .clk(clk), .reset(reset), .fetch_begin(fetch_begin), .slot(slot), .slot_on(slot_on),
    .slot_end(slot_end), .line(fetch_line), .kind(fetch_kind), .asks(asks), .cpu_asks(cpu_asks),
    .places(places), .refresh(refresh), .cpu(cpu), .cpu_may(cpu_may));
  wire transfers_overflow;
  cpu_queue cpu_queue (
    .clk(clk), .reset(reset), .tick(ticks), .begins(transfer_begins || to_memory), .single(to_memory),
    .begin_address(to_memory ? port_at : transfer_address),
    .begin_step(to_memory ? 10'd1 : transfer_step), .begin_count(to_memory ? 24'd1 : transfer_count),
    .begin_byte(bus_data), .write_now(write_now), .slot_now(slot_now), .may(cpu_may),
    .served(slot_end && cpu), .ask(cpu_asks), .address(cpu_address), .value(cpu_value),
    .next_byte(transfer_byte), .takes(transfer_takes), .overflow(transfers_overflow));

  reg [23:0] address;
  integer i;
  always @* begin
    address = cpu ? cpu_address : 24'd0;
    trace_client = cpu ? CLIENT_CPU : CLIENT_REFRESH;
    if (places != 0)
      for (i = 0; i < PLACES; i = i + 1)
        if (places[i]) begin
          address = addresses[24*i +: 24];
          trace_client = PLACES_CLIENT[32*i +: 32] == ~32'd0
              ? (sprites_table ? CLIENT_SPRITES_PATTERN - 1 : CLIENT_SPRITES_PATTERN) : PLACES_CLIENT[32*i +: 8];
        end
  end
  wire [23:0] address_in = address % MEMORY_SIZE;
  assign memory_word = address_in / MEMORY_ACCESS_BYTES;
  assign memory_data = {MEMORY_ACCESS_BYTES{cpu_value}};
  assign trace_access = slot_end && fetch_kind == LINE_FRAME && (cpu || refresh || places != 0);
  assign trace_access_line = fetch_line;
  assign trace_slot = slot;
  assign trace_address = address_in;
  assign trace_value = refresh ? 64'd0 : cpu ? {56'd0, cpu_value} : {{(64-BUS_BITS){1'b0}}, memory_value};
  assign trace_missed_line = fetch_line;

  // sprites
  wire listed, list_overflow;
  wire [RECORD-1:0] list_record, read_record;
  wire [7:0] list_row, list_number, read_slot, read_number;
  wire [SPRITE_ROW-1:0] read_dots;
  wire read_dots_now, read_turn, sprites_late;
  wire [3:0] dropping;
  wire told_now;
  wire scan_begins = dot_end && dot == 0 && kind != LINE_IDLE;
  generate
    if (SPRITES_IN_MEMORY) begin : no_table
      assign listed = 1'b0;
      assign list_record = 0;
      assign list_row = 0;
      assign list_number = 0;
      assign list_overflow = 1'b0;
    end else begin : table_on_chip
      sprite_table sprite_table (
        .clk(clk), .reset(reset), .begins(scan_begins && after_line < FRAME_HEIGHT),
        .line(after_line), .write(to_sprites), .write_at(port_at[15:0]), .write_data(bus_data),
        .found(listed), .record(list_record), .row(list_row), .number(list_number),
        .overflow(list_overflow));
    end
  endgenerate
  sprite_fetch sprite_fetch (
    .clk(clk), .reset(reset), .scan_begins(scan_begins), .scan_turn(turn), .controls(controls),
    .listed(listed), .list_record(list_record), .list_row(list_row), .list_number(list_number),
    .fetch_begin(fetch_begin), .begin_kind(kind), .next_line(after_line), .turn(fetch_turn),
    .line(fetch_line), .kind(fetch_kind), .slot_end(slot_end), .served(sprites_serve),
    .value(memory_value), .bytes(bytes), .ask(sprites_ask), .address(sprite_address),
    .of_table(sprites_table), .dropped(dropping), .tells(told_now),
    .reads(read_dots_now), .told_found(trace_found), .told_drawn(trace_drawn), .drops(trace_drops),
    .drop_number(trace_drop), .drop_reason(trace_reason), .read_turn(read_turn),
    .read_slot(read_slot), .read_record(read_record), .read_number(read_number),
    .read_dots(read_dots));
  assign trace_counts = told_now && fetch_kind == LINE_FRAME && fetch_line < FRAME_HEIGHT;
  assign trace_sprite_line = fetch_line;
  wire [N-1:0] mask;
  wire [15:0] sprite_entry;
  wire [8*N-1:0] slot_numbers, slot_groups;
  wire [RUNGS*N-1:0] slot_tests;
  sprite_draw sprite_draw (
    .clk(clk), .reset(reset), .begins(told_now), .count(trace_drawn), .source_turn(!fetch_turn[0]),
    .reads(read_dots_now), .read_turn(read_turn), .read_slot(read_slot), .record(read_record), .number(read_number),
    .row(read_dots), .tick(ticks), .show(dot_end && dot < FRAME_WIDTH), .show_turn(show_turn[0]),
    .dot(dot), .mask(mask), .entry(sprite_entry), .slot_numbers(slot_numbers),
    .slot_groups(slot_groups), .slot_tests(slot_tests), .late(sprites_late));

  // flags of whole lines, by turn
  reg [3:0] line_hits;
  always @(posedge clk)
    if (reset) line_hits <= 0;
    else if (dot_end && dot == 0)
      line_hits[turn] <= kind == LINE_FRAME && CONTROL_LINE_FLAG >= 0
          && controls[32*(CONTROL_LINE_FLAG < 0 ? 0 : CONTROL_LINE_FLAG) +: 32] == {16'd0, line};
  wire [7:0] raised, groups_raised;
  wire [15:0] mixed_entry;
  wire meets;
  picture picture (
    .clk(clk), .reset(reset), .tick(ticks), .dot(dot), .dot_end(dot_end), .line(show_line),
    .kind(show_kind), .line_hit(line_hits[show_turn]), .drops(dropping[show_turn]),
    .shows_dot(shows_dot), .saying(saying), .kept(kept), .takes(takes), .mask(mask),
    .sprite_entry(sprite_entry), .slot_numbers(slot_numbers), .slot_groups(slot_groups),
    .slot_tests(slot_tests), .mixed_entry(mixed_entry), .raised(raised),
    .groups_raised(groups_raised), .flag_line(trace_flag_line), .flag_dot(trace_flag_dot),
    .meets(meets), .met(trace_met), .dot_shows(dot_shows), .dot_entry(dot_entry),
    .dot_source(trace_source), .dot_rung(trace_rung), .dot_sprite(trace_sprite),
    .dot_line(trace_line), .dot_number(trace_dot));
  assign trace_flags = ticks ? raised : 8'd0;
  assign trace_meets = meets && ticks;
  assign trace_met_numbers = slot_numbers;
  wire due_status, history_overflow, palette_overflow;
  wire [16:0] status_write;
  history #(.WIDTH(17), .LATE(4)) status_history (
    .clk(clk), .reset(reset), .now(tick_count), .put(clears),
    .entry({at_groups, at_groups ? 8'd0 : cleared, at_groups ? cleared : 8'd0}),
    .due(due_status), .stall(stall_status), .first(status_write), .overflow(history_overflow));
  status status (
    .clk(clk), .reset(reset), .raised(ticks ? raised : 8'd0),
    .groups_raised(ticks ? groups_raised : 8'd0), .clear(due_status ? status_write[15:8] : 8'd0),
    .clear_groups(due_status ? status_write[7:0] : 8'd0), .flags(flags), .groups(groups));

  // the palette
  wire due_palette;
  wire [23:0] palette_write;
  history #(.WIDTH(24), .LATE(3)) palette_history (
    .clk(clk), .reset(reset), .now(tick_count), .put(to_palette), .entry({port_at[15:0], bus_data}),
    .due(due_palette), .stall(stall_palette), .first(palette_write), .overflow(palette_overflow));
  palette palette (
    .clk(clk), .tick(ticks), .write(due_palette), .write_at(palette_write[23:8]), .write_data(palette_write[7:0]),
    .entry(mixed_entry), .colour(dot_colour));
  assign overflow = history_overflow || palette_overflow || transfers_overflow || list_overflow
      || sprites_late;
endmodule
