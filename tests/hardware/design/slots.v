// Who has the slot.
//
// It knows the order: slots reserved for the CPU, then refresh, the places, the CPU. The sprites
// are a place like the others. Refresh is counted here.
module slots (
    clk, reset, fetch_begin, slot, slot_on, slot_end, line, kind,
    asks, cpu_asks, places, refresh, cpu, cpu_may
);
  `include "design.vh"
  input clk, reset, fetch_begin;
  input [15:0] slot;
  input slot_on, slot_end;
  input [15:0] line;
  input [1:0] kind;
  input [PLACES-1:0] asks;
  input cpu_asks;
  output reg [PLACES-1:0] places;      // the place that has this slot
  output reg refresh, cpu;
  output reg cpu_may;                  // the CPU could have it, were it free

  wire refresh_hit, cpu_hit;
  slot_list #(.EVERY(REFRESH_EVERY), .COUNT(REFRESH_AT_COUNT), .LIST(REFRESH_AT))
    refresh_list (.slot(slot), .hit(refresh_hit));
  slot_list #(.EVERY(CPU_EVERY), .COUNT(CPU_AT_COUNT), .LIST(CPU_AT))
    cpu_list (.slot(slot), .hit(cpu_hit));

`ifdef FAULT_REFRESH
  localparam integer REFRESHES = REFRESH_SLOTS - 1;
`else
  localparam integer REFRESHES = REFRESH_SLOTS;
`endif
  reg [15:0] refreshed;
  wire blank = slot < MEMORY_BLANK_SLOTS || line >= FRAME_HEIGHT || kind != LINE_FRAME;
  wire reserved = !blank && CPU_ACTIVE == ACTIVE_RESERVED && cpu_hit;

  reg free;
  always @* begin
    places = 0;
    refresh = 0;
    cpu = 0;
    cpu_may = kind == LINE_FRAME && (blank ? CPU_BLANKING != 0 : CPU_ACTIVE != ACTIVE_NONE && cpu_hit);
    free = 1;
    if (slot_on) begin
      if (reserved) free = 0;
      else if (refreshed < REFRESHES && refresh_hit) begin
        refresh = 1;
        free = 0;
      end
      if (free && asks != 0) begin
        places = asks & (~asks + 1'b1);  // the first in order
        free = 0;
      end
      if ((free || reserved) && cpu_may && cpu_asks) cpu = 1;
    end
  end

  wire works = reset || fetch_begin || slot_end && refresh;
  always @(posedge clk)
    if (!works) begin
    end else if (reset || fetch_begin) refreshed <= 0;
    else refreshed <= refreshed + 16'd1;
endmodule
