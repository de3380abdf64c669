// The chip.
//
// It puts the parts together: the beam; registers and ports on the CPU's bus; the scanner, which
// walks the dots with the registers in force; the memory's places and slots, a line later; and the
// picture, two lines later. A tick passes on a clock with `tick`, unless writes of the past have to
// be done first; the CPU may write on any clock, and a write counts from the scanner's dot on.
// The trace_ outputs tell what the parts do, for a test bench.
module chip (
    clk, reset, tick, hold,
    bus_write, bus_read, bus_address, bus_data, answers, answered,
    transfer_begins, transfer_late, transfer_address, transfer_step, transfer_count, transfer_byte, transfer_takes,
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
  // what is read: of memory, palette and sprite table (their TARGET_), of the status, of a register. As the parts are later than
  // the CPU, so are the answers; each is what stands at the CPU's moment, and a read of the status clears what it has given
  output [4:0] answers;                // bit i: a read of i is answered
  output [39:0] answered;              // with byte i
  // a block of bytes that the CPU puts into video memory at its own pace
  input transfer_begins;
  input [31:0] transfer_late;          // it starts so much later than now, in the CPU's units
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
  output [7:0] trace_source, trace_rung;
  output [SPRITE_NUMBER-1:0] trace_sprite;
  output [15:0] trace_line, trace_dot;
  output trace_access;
  output [15:0] trace_access_line, trace_slot;
  output [7:0] trace_client;
  output [23:0] trace_address;
  output [63:0] trace_value;
  output [8*PLACES-1:0] trace_missed;
  output [15:0] trace_missed_line;
  output trace_counts, trace_drops;
  output [SPRITE_NUMBER-1:0] trace_found, trace_drawn, trace_drop;
  output [1:0] trace_reason;
  output [15:0] trace_sprite_line;
  output [7:0] trace_flags;
  output [15:0] trace_flag_line, trace_flag_dot;
  output trace_meets;
  output [N*N-1:0] trace_met;
  output [SPRITE_NUMBER*N-1:0] trace_met_numbers;
  output [7:0] flags, groups;
  output overflow;

  limits limits ();

  // the beam
  wire stall_palette, stall_status, stall_memory;
  assign ticks = tick && !stall_palette && !stall_status && !stall_memory;
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
  wire port_memory, port_palette, port_sprites;
  wire to_memory = port_memory && bus_write;
  wire [23:0] port_at;
  ports ports (
    .clk(clk), .reset(reset), .write(bus_write), .read(bus_read), .address(bus_address), .data(bus_data),
    .memory(port_memory), .palette(port_palette), .sprites(port_sprites), .at(port_at));
  wire at_status = STATUS_ADDRESS >= 0 && bus_address == STATUS_ADDRESS;
  wire at_groups = STATUS_GROUPS >= 0 && bus_address == STATUS_GROUPS;
  wire to_status = (bus_read || bus_write && !STATUS_CLEARED_BY_READ) && (at_status || at_groups);
  wire [7:0] cleared = STATUS_CLEARED_BY_READ ? 8'hff : bus_read ? 8'd0 : bus_data;
  wire due_memory, due_palette, due_status, gives_sprite;
  wire [23:0] memory_read;
  wire [24:0] palette_write;
  wire [17:0] status_write;
  reg [7:0] memory_answer, status_answer, register_answer;
  wire [7:0] palette_answer, sprite_answer;
  assign answered = {register_answer, status_answer, sprite_answer, palette_answer, memory_answer};
  wire [15:0] memory_byte = memory_read % MEMORY_ACCESS_BYTES;
  wire elsewhere = port_memory || port_palette || port_sprites || at_status || at_groups;
  reg gave_register, gave_memory, gave_palette, gave_status;
  assign answers = {gave_register, gave_status, gives_sprite, gave_palette, gave_memory};
  always @(posedge clk) begin
    gave_register <= bus_read && !elsewhere && !reset;
    gave_memory <= due_memory;
    gave_palette <= due_palette && palette_write[24];
    gave_status <= due_status && status_write[17];
    if (bus_read) register_answer <= register_value;
    if (due_memory) memory_answer <= bytes >> 8*memory_byte;
    if (due_status) status_answer <= status_write[16] ? groups : flags;
  end

  // the scanner
  localparam integer SAYS = SAID * LAYERS + 16 + 4;
  wire [LAYERS-1:0] group_begins;
  wire [4*LAYERS-1:0] group_modes;
  wire [6*LAYERS-1:0] group_rows;
  wire [24*LAYERS-1:0] group_addresses, group_colours;
  wire [15:0] group_dot;
  wire group_turn;
  wire [32*CONTROLS-1:0] group_controls;
  wire [SAYS-1:0] saying;
  wire shows_dot = dot_end && show_kind == LINE_FRAME && show_line < FRAME_HEIGHT && dot < FRAME_WIDTH;
  scanner scanner (
    .clk(clk), .dot_end(dot_end), .scans(kind == LINE_FRAME && line < FRAME_HEIGHT && dot < FRAME_WIDTH),
    .dot(dot), .line(line), .turn(turn[0]), .controls(controls), .begins(group_begins), .modes(group_modes),
    .rows(group_rows), .addresses(group_addresses), .colours(group_colours), .begin_dot(group_dot),
    .begin_turn(group_turn), .begin_controls(group_controls), .shows_dot(shows_dot),
    .show_turn(show_turn[0]), .saying(saying));

  // the memory's side: places, sprites, the CPU
  wire [BUS_BITS-1:0] bytes;           // the lowest address in the low byte
  wire [PLACES-1:0] takes;
  wire [KEPT*PLACES-1:0] kept;
  wire [23:0] sprite_address;
  wire sprites_ask, sprites_table, sprites_serve, transfers_overflow, memory_overflow;
  // a read of memory comes between two ticks, and so takes no slot
  wire [23:0] slot_word;
  assign memory_word = due_memory ? memory_read / MEMORY_ACCESS_BYTES : slot_word;
  history #(.WIDTH(24), .LATE(-TICKS), .WHAT("reads of memory in a line")) memory_history (
    .clk(clk), .reset(reset), .now(tick_count), .put(port_memory && bus_read), .entry(port_at), .due(due_memory),
    .stall(stall_memory), .first(memory_read), .overflow(memory_overflow));
  memory_side memory_side (
    .clk(clk), .reset(reset), .tick(ticks), .controls(controls), .begins(group_begins), .modes(group_modes),
    .rows(group_rows), .group_addresses(group_addresses), .colours(group_colours), .begin_dot(group_dot),
    .begin_turn(group_turn), .begin_controls(group_controls), .fetch_begin(fetch_begin), .line(fetch_line),
    .kind(fetch_kind), .turn(fetch_turn[0]), .slot(slot), .slot_at(slot_at), .slot_on(slot_on),
    .slot_end(slot_end), .slot_now(slot_now), .write_now(write_now),
    .sprites_ask(sprites_ask), .sprites_table(sprites_table), .sprite_address(sprite_address),
    .sprites_serve(sprites_serve), .transfer_begins(transfer_begins || to_memory), .single(to_memory),
    .transfer_late(to_memory ? 32'd0 : transfer_late),
    .transfer_address(to_memory ? port_at : transfer_address),
    .transfer_step(to_memory ? 10'd1 : transfer_step), .transfer_count(to_memory ? 24'd1 : transfer_count),
    .single_byte(bus_data), .transfer_byte(transfer_byte), .transfer_takes(transfer_takes),
    .overflow(transfers_overflow), .memory_word(slot_word), .memory_write(memory_write),
    .memory_data(memory_data), .memory_value(memory_value), .bytes(bytes), .takes(takes), .kept(kept),
    .trace_access(trace_access), .trace_client(trace_client), .trace_address(trace_address),
    .trace_value(trace_value), .trace_missed(trace_missed));
  assign trace_access_line = fetch_line;
  assign trace_slot = slot;
  assign trace_missed_line = fetch_line;

  // sprites
  wire sprites_late;
  wire [3:0] dropping;
  wire [N-1:0] mask;
  wire [ENTRY_BITS-1:0] sprite_entry;
  wire [SPRITE_NUMBER*N-1:0] slot_numbers;
  wire [8*N-1:0] slot_groups;
  wire [RUNGS*N-1:0] slot_tests;
  assign trace_sprite_line = fetch_line;
  generate
    if (SPRITES_COUNT == 0) begin : no_sprites
      assign {sprites_ask, sprites_table, sprites_late, trace_counts, trace_drops} = 0;
      assign sprite_address = 0;
      assign {dropping, mask, sprite_entry, slot_numbers, slot_groups, slot_tests} = 0;
      assign {trace_found, trace_drawn, trace_drop, trace_reason} = 0;
      assign {gives_sprite, sprite_answer} = 0;
    end else begin : with_sprites
      sprites sprites (
        .clk(clk), .reset(reset), .tick(ticks), .controls(controls), .dot(dot), .dot_end(dot_end), .kind(kind),
        .turn(turn), .after_line(after_line), .fetch_begin(fetch_begin), .fetch_line(fetch_line),
        .fetch_kind(fetch_kind), .fetch_turn(fetch_turn), .show_turn(show_turn[0]),
        .write(port_sprites && bus_write), .asks(port_sprites && bus_read), .gives(gives_sprite),
        .given(sprite_answer), .write_at(port_at[15:0]), .write_data(bus_data), .slot_end(slot_end), .served(sprites_serve),
        .value(memory_value), .bytes(bytes), .ask(sprites_ask), .of_table(sprites_table),
        .address(sprite_address), .dropping(dropping), .mask(mask), .entry(sprite_entry),
        .slot_numbers(slot_numbers), .slot_groups(slot_groups), .slot_tests(slot_tests), .late(sprites_late),
        .counts(trace_counts), .found(trace_found), .drawn(trace_drawn), .drops(trace_drops),
        .drop(trace_drop), .reason(trace_reason));
    end
  endgenerate

  // flags of whole lines, by turn
  reg [3:0] line_hits;
  always @(posedge clk)
    if (reset) line_hits <= 0;
    else if (dot_end && dot == 0)
      line_hits[turn] <= kind == LINE_FRAME && STATUS_LINE_CONTROL >= 0
          && controls[32*(STATUS_LINE_CONTROL < 0 ? 0 : STATUS_LINE_CONTROL) +: 32] == {16'd0, line};
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
  reg [SPRITE_NUMBER*N-1:0] met_numbers;      // a step later, with the pairs
  always @(posedge clk) if (ticks) met_numbers <= slot_numbers;
  assign trace_met_numbers = met_numbers;
  wire history_overflow, palette_overflow;
  history #(.WIDTH(18), .LATE(4), .WHAT("clears of the status in two lines")) status_history (
    .clk(clk), .reset(reset), .now(tick_count), .put(to_status),
    .entry({bus_read, at_groups, at_groups ? 8'd0 : cleared, at_groups ? cleared : 8'd0}),
    .due(due_status), .stall(stall_status), .first(status_write), .overflow(history_overflow));
  status status (
    .clk(clk), .reset(reset), .raised(ticks ? raised : 8'd0),
    .groups_raised(ticks ? groups_raised : 8'd0), .clear(due_status ? status_write[15:8] : 8'd0),
    .clear_groups(due_status ? status_write[7:0] : 8'd0), .flags(flags), .groups(groups));

  // the palette
  history #(.WIDTH(25), .LATE(4), .WHAT("bytes for the palette in two lines")) palette_history (
    .clk(clk), .reset(reset), .now(tick_count), .put(port_palette), .entry({bus_read, port_at[15:0], bus_data}),
    .due(due_palette), .stall(stall_palette), .first(palette_write), .overflow(palette_overflow));
  palette palette (
    .clk(clk), .tick(ticks), .write(due_palette && !palette_write[24]), .read(due_palette && palette_write[24]),
    .value(palette_answer), .write_at(palette_write[23:8]), .write_data(palette_write[7:0]),
    .entry(mixed_entry), .colour(dot_colour));
  assign overflow = memory_overflow || history_overflow || palette_overflow || transfers_overflow || sprites_late;
endmodule
