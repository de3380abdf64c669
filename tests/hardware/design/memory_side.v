// The memory's side: who asks for data, who has the slot, and what comes.
//
// It puts together the places of the time table, the slots and the CPU's queue. The sprites ask from
// outside. What a place of cells has found is told to all places, because patterns and glyphs hang on it.
module memory_side (
    clk, reset, tick, controls,
    begins, modes, rows, group_addresses, colours, begin_dot, begin_turn, begin_controls,
    fetch_begin, line, kind, turn, slot, slot_at, slot_on, slot_end, slot_now, write_now,
    sprites_ask, sprites_table, sprite_address, sprites_serve,
    transfer_begins, single, transfer_late, transfer_address, transfer_step, transfer_count, single_byte,
    transfer_byte, transfer_takes, overflow,
    memory_word, memory_write, memory_data, memory_value, bytes, takes, kept,
    trace_access, trace_client, trace_address, trace_value, trace_missed
);
  `include "design.vh"
  input clk, reset, tick;
  input [32*CONTROLS-1:0] controls;
  // groups that begin, layer by layer, from the scanner
  input [LAYERS-1:0] begins;
  input [4*LAYERS-1:0] modes;
  input [6*LAYERS-1:0] rows;
  input [24*LAYERS-1:0] group_addresses, colours;
  input [15:0] begin_dot;
  input begin_turn;
  input [32*CONTROLS-1:0] begin_controls;
  // time
  input fetch_begin, turn;
  input [15:0] line, slot, slot_at;
  input [1:0] kind;
  input slot_on, slot_end;
  input [31:0] slot_now, write_now;
  // sprites
  input sprites_ask, sprites_table;    // sprites_table: for a record
  input [23:0] sprite_address;
  output sprites_serve;
  // the CPU; `single`: a transfer of single_byte alone
  input transfer_begins, single;
  input [23:0] transfer_address, transfer_count;
  input [9:0] transfer_step;
  input [31:0] transfer_late;
  input [7:0] single_byte, transfer_byte;
  output transfer_takes, overflow;
  // video memory, and what it gives with the lowest address in the low byte
  output [23:0] memory_word;
  output [MEMORY_ACCESS_BYTES-1:0] memory_write;
  output [BUS_BITS-1:0] memory_data, bytes;
  input [BUS_BITS-1:0] memory_value;
  // the picture's side: the first group of every place
  input [PLACES-1:0] takes;
  output reg [KEPT*PLACES-1:0] kept;
  output trace_access;
  output reg [7:0] trace_client;
  output [23:0] trace_address;
  output [63:0] trace_value;
  output [8*PLACES-1:0] trace_missed;

  reg [32*CONTROLS-1:0] fetch_controls;
  always @(posedge clk) if (fetch_begin) fetch_controls <= controls;
  wire [PLACES-1:0] asks, places;
  reg [24*PLACES-1:0] addresses;
  wire refresh, cpu, cpu_may, cpu_asks;
  wire [23:0] cpu_address;
  wire [7:0] cpu_value;
  // what places of cells tell those that hang on them
  wire [COUNT_BITS*PLACES-1:0] numbers;
  wire [PLACES-1:0] tell;
  wire [17*PLACES-1:0] told;
  genvar l, p;
  generate
    for (l = 0; l < MEMORY_ACCESS_BYTES; l = l + 1) begin : a_lane
      localparam integer LANE = MEMORY_BIG_END_FIRST ? MEMORY_ACCESS_BYTES - 1 - l : l;
      assign bytes[8*l +: 8] = memory_value[8*LANE +: 8];
`ifdef FAULT_LANE
      assign memory_write[l] = slot_end && cpu && cpu_address % MEMORY_ACCESS_BYTES == l;
`else
      assign memory_write[LANE] = slot_end && cpu && cpu_address % MEMORY_ACCESS_BYTES == l;
`endif
    end
    for (p = 0; p < PLACES; p = p + 1) begin : a_place
      localparam integer LAYER = PLACES_LAYER[32*p +: 32];
      localparam integer WHAT = PLACES_WHAT[32*p +: 32];
      if (WHAT == WHAT_SPRITES) begin : sprites
        wire hit;
        slot_list #(.EVERY(PLACES_EVERY[32*p +: 32]), .COUNT(PLACES_AT_COUNT[32*p +: 32]),
                    .LIST(PLACES_AT >> (PLACES_AT_FIRST[32*p +: 32] == ~32'd0 ? 0 : 32 * PLACES_AT_FIRST[32*p +: 32])))
          own_slots (.slot(slot), .hit(hit));
        assign asks[p] = sprites_ask && hit;
        always @* addresses[24*p +: 24] = sprite_address;
        initial kept[KEPT*p +: KEPT] = {KEPT{1'b0}};
        assign trace_missed[8*p +: 8] = 8'd0;
        assign numbers[COUNT_BITS*p +: COUNT_BITS] = {COUNT_BITS{1'b0}};
        assign tell[p] = 1'b0;
        assign told[17*p +: 17] = 17'd0;
        assign sprites_serve = slot_end && places[p];
      end else begin : layers
        wire [23:0] own_address;
        wire [KEPT-1:0] own_kept;
        place #(.PLACE(p)) place (
          .clk(clk), .reset(reset), .begins(begins[LAYER]), .mode(modes[4*LAYER +: 4]),
          .dot(begin_dot), .row(rows[6*LAYER +: 6]), .begin_controls(begin_controls),
          .begin_address(WHAT == WHAT_COLOURS ? colours[24*LAYER +: 24] : group_addresses[24*LAYER +: 24]),
          .turn(begin_turn), .numbers(numbers), .number(numbers[COUNT_BITS*p +: COUNT_BITS]),
          .slot(slot), .slot_at(slot_at), .slot_end(slot_end), .fetch_turn(turn), .tick(tick),
          .controls(fetch_controls), .ask(asks[p]), .address(own_address),
          .served(slot_end && places[p]), .bytes(bytes), .tells(tell[p]), .told(told[17*p +: 17]),
          .all_tell(tell), .all_told(told),
          .take(takes[p]), .kept(own_kept), .missed(trace_missed[8*p +: 8]));
        always @* addresses[24*p +: 24] = own_address;
        always @* kept[KEPT*p +: KEPT] = own_kept;
      end
    end
  endgenerate

  slots slots (
    .clk(clk), .reset(reset), .fetch_begin(fetch_begin), .slot(slot), .slot_on(slot_on),
    .slot_end(slot_end), .line(line), .kind(kind), .asks(asks), .cpu_asks(cpu_asks),
    .places(places), .refresh(refresh), .cpu(cpu), .cpu_may(cpu_may));
  cpu_queue cpu_queue (
    .clk(clk), .reset(reset), .tick(tick), .begins(transfer_begins), .single(single), .begin_late(transfer_late),
    .begin_address(transfer_address), .begin_step(transfer_step), .begin_count(transfer_count),
    .begin_byte(single_byte), .write_now(write_now), .slot_now(slot_now), .may(cpu_may),
    .served(slot_end && cpu), .ask(cpu_asks), .address(cpu_address), .value(cpu_value),
    .next_byte(transfer_byte), .takes(transfer_takes), .overflow(overflow));

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
              ? (sprites_table ? SPRITES_TABLE_CLIENT : SPRITES_PATTERN_CLIENT) : PLACES_CLIENT[32*i +: 8];
        end
  end
  wire [23:0] address_in = address % MEMORY_SIZE;
  assign memory_word = address_in / MEMORY_ACCESS_BYTES;
  assign memory_data = {MEMORY_ACCESS_BYTES{cpu_value}};
  assign trace_access = slot_end && kind == LINE_FRAME && (cpu || refresh || places != 0);
  assign trace_address = address_in;
  assign trace_value = refresh ? 64'd0 : cpu ? {56'd0, cpu_value} : {{(64-BUS_BITS){1'b0}}, memory_value};
endmodule
