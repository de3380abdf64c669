// The ports: windows of the CPU's bus to video memory, palette and sprite table.
//
// It knows each port's address and step. A byte of data goes on at once, with its address, and so does a read of one.
module ports (clk, reset, write, read, address, data, memory, palette, sprites, at);
  `include "design.vh"
  input clk, reset, write, read;
  input [15:0] address;
  input [7:0] data;
  output reg memory, palette, sprites; // the byte `data` goes there, to `at`, or one is read from there
  output reg [23:0] at;

  reg [24*PORTS-1:0] places;
  reg [8*PORTS-1:0] steps;
  reg [24*PORTS-1:0] places_next;
  reg [8*PORTS-1:0] steps_next;
  reg [31:0] first, bytes, reach, target;
  reg [7:0] step;
  integer p;
  always @* begin
    memory = 0; palette = 0; sprites = 0; at = 0; step = 0;
    places_next = places;
    steps_next = steps;
    first = 0; bytes = 0; reach = 1; target = 0;
    if (write || read)
      for (p = 0; p < PORTS; p = p + 1) begin
        first = PORTS_ADDRESS[32*p +: 32];
        bytes = PORTS_ADDRESS_BYTES[32*p +: 32];
        reach = PORTS_REACH[32*p +: 32];
        target = PORTS_TARGET[32*p +: 32];
        if (write && {16'd0, address} >= first && {16'd0, address} < first + bytes)
          places_next[24*p + 8*(address - first) +: 8] = data;
        if (write && PORTS_STEP[32*p +: 32] != ~32'd0 && {16'd0, address} == PORTS_STEP[32*p +: 32])
          steps_next[8*p +: 8] = data;
        if ({16'd0, address} == PORTS_DATA[32*p +: 32]) begin
          memory = target == TARGET_MEMORY;
          palette = target == TARGET_PALETTE;
          sprites = target == TARGET_SPRITES;
          at = places[24*p +: 24] % reach;
          step = steps[8*p +: 8];
          places_next[24*p +: 24] = (at + step) % reach;
        end
      end
  end
  integer q;
  wire works = reset || write || read;
  always @(posedge clk)
    if (!works) begin
    end else if (reset) begin
      places <= 0;
      for (q = 0; q < PORTS; q = q + 1) steps[8*q +: 8] <= PORTS_ADVANCE[32*q +: 8];
    end else begin
      places <= places_next;
      steps <= steps_next;
    end
endmodule
