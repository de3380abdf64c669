// The sprite table on the chip, and the sprites of the next line.
//
// It knows records, and looks through them once a line, from dot 0 on, one a tick. The CPU's bytes
// come between: those after dot 0 count for the next line, so they wait while it looks.
module sprite_table (clk, reset, begins, line, write, write_at, write_data, found, record, row,
                     number, overflow);
  `include "design.vh"
  input clk, reset, begins;            // look for the sprites of `line`
  input [15:0] line;
  input write;
  input [15:0] write_at;
  input [7:0] write_data;
  output found;
  output [RECORD-1:0] record;
  output [7:0] row;
  output reg [SPRITE_NUMBER-1:0] number;
  output reg overflow;

  localparam integer WAITING = waiting_bits(LOOK_CLOCKS / TICK_CLOCKS + 1);
  localparam integer UPWARD = SPRITES_FRONT_FIRST == SPRITES_BACK_DROPPED;
  reg [RECORD-1:0] records [0:SPRITES_COUNT-1];
  reg [RECORD-1:0] read;
  reg [SPRITE_NUMBER-1:0] next, left;
  reg looking, there;
  reg [15:0] of_line;

  wire waits;
  wire [23:0] waiting;
  wire apply = waits && !looking;
  reg [WAITING:0] held;
  wire direct = write && !looking && held == 0;
  queue #(.WIDTH(24), .ADDRESS(WAITING), .WHAT("bytes for the sprite table while it looks")) writes (
    .clk(clk), .reset(reset), .put(write && !direct), .entry({write_at, write_data}), .take(apply),
    .first(waiting), .there(waits));
  wire [15:0] at = direct ? write_at : waiting[23:8];
  wire [7:0] data = direct ? write_data : waiting[7:0];
  integer i;
  always @(posedge clk) if (direct || apply)
    for (i = 0; i < SPRITES_RECORD_BYTES; i = i + 1)
      if (at % SPRITES_RECORD_BYTES == i)
        records[at / SPRITES_RECORD_BYTES][8 * (MEMORY_BIG_END_FIRST ? SPRITES_RECORD_BYTES - 1 - i : i) +: 8] <= data;

  always @(posedge clk) if (looking) read <= records[next];
  wire works = reset || begins || looking || there || write || apply;
  always @(posedge clk)
    if (!works) begin
    end else if (reset) begin
      looking <= 0; there <= 0; next <= 0; left <= 0; number <= 0; of_line <= 0;
      held <= 0; overflow <= 0;
    end else begin
      held <= held + {{WAITING{1'b0}}, write && !direct} - {{WAITING{1'b0}}, apply};
      if (write && held == 1 << WAITING) overflow <= 1;
      there <= looking;
      number <= next;
      if (begins) begin
        looking <= 1;
        next <= UPWARD ? {SPRITE_NUMBER{1'b0}} : SPRITES_COUNT - 1;
        left <= SPRITES_COUNT - 1;
        of_line <= line;
      end else if (looking) begin
        next <= UPWARD ? next + 1'b1 : next - 1'b1;
        left <= left - 1'b1;
        if (left == 0) looking <= 0;
      end
    end

  wire lies;
  sprite_found look (.record(read), .line(of_line), .found(lies), .row(row));
  assign found = there && lies;
  assign record = read;
endmodule
