// The sprite table on the chip, and the sprites of the next line.
//
// It knows records, and looks through them once a line, from dot 0 on, one a tick. The CPU's bytes
// come between: those after dot 0 count for the next line, so they wait while it looks, and reads wait with them.
module sprite_table (clk, reset, begins, line, write, asks, write_at, write_data, gives, given, found, record, row,
                     number, overflow);
  `include "design.vh"
  input clk, reset, begins;            // look for the sprites of `line`
  input [15:0] line;
  input write, asks;                   // asks: the byte at write_at is read
  input [15:0] write_at;
  input [7:0] write_data;
  output reg gives;                    // `given` is what was asked for
  output [7:0] given;
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
  wire [24:0] waiting;
  wire apply = waits && !looking;
  reg [WAITING:0] held;
  wire direct = (write || asks) && !looking && held == 0;
  queue #(.WIDTH(25), .ADDRESS(WAITING), .WHAT("bytes for the sprite table while it looks")) writes (
    .clk(clk), .reset(reset), .put((write || asks) && !direct), .entry({asks, write_at, write_data}), .take(apply),
    .first(waiting), .there(waits));
  wire [15:0] at = direct ? write_at : waiting[23:8];
  wire [7:0] data = direct ? write_data : waiting[7:0];
  wire gets = (direct || apply) && (direct ? asks : waiting[24]);
  integer i;
  always @(posedge clk) if ((direct || apply) && !gets)
    for (i = 0; i < SPRITES_RECORD_BYTES; i = i + 1)
      if (at % SPRITES_RECORD_BYTES == i)
        records[at / SPRITES_RECORD_BYTES][8 * (MEMORY_BIG_END_FIRST ? SPRITES_RECORD_BYTES - 1 - i : i) +: 8] <= data;

  reg [3:0] byte_given;
  wire [15:0] record_at = looking ? next : at / SPRITES_RECORD_BYTES;
  always @(posedge clk) if (looking || gets) read <= records[record_at];
  always @(posedge clk) begin
    gives <= gets && !reset;
    if (gets) byte_given <= MEMORY_BIG_END_FIRST ? SPRITES_RECORD_BYTES - 1 - at % SPRITES_RECORD_BYTES : at % SPRITES_RECORD_BYTES;
  end
  assign given = read >> 8*byte_given;
  wire works = reset || begins || looking || there || write || asks || apply;
  always @(posedge clk)
    if (!works) begin
    end else if (reset) begin
      looking <= 0; there <= 0; next <= 0; left <= 0; number <= 0; of_line <= 0;
      held <= 0; overflow <= 0;
    end else begin
      held <= held + {{WAITING{1'b0}}, (write || asks) && !direct} - {{WAITING{1'b0}}, apply};
      if ((write || asks) && held == 1 << WAITING) overflow <= 1;
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
