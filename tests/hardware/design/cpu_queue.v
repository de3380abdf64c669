// Bytes of the CPU on their way into video memory.
//
// It knows the CPU's pace and the few bytes that the chip holds for it. Transfers wait in a small
// queue, each with the moment at which it starts; a write to the data of a memory port is one of
// a single byte. A byte is at hand a loop after the one before, or after a place has come free,
// and lands in the first slot from then on that the CPU can have.
// Moments are counted in CPU_UNITS to a tick, as they are for the memory's side.
module cpu_queue (
    clk, reset, tick, begins, single, begin_late, begin_address, begin_step, begin_count, begin_byte, write_now,
    slot_now, may, served, ask, address, value, next_byte, takes, overflow
);
  `include "design.vh"
  input clk, reset, tick;
  input begins, single;                // a transfer begins; `single`: of begin_byte alone
  input [31:0] begin_late;             // it starts so much later than now
  input [23:0] begin_address;
  input [9:0] begin_step;
  input [23:0] begin_count;
  input [7:0] begin_byte;
  input [31:0] write_now, slot_now;
  input may, served;
  output ask;
  output [23:0] address;
  output [7:0] value;
  input [7:0] next_byte;               // the next byte of a transfer that is not single
  output takes;                        // and it is taken
  output reg overflow;                 // a transfer was lost

  localparam integer HELD = CPU_PACED && CPU_QUEUE > 0 ? CPU_QUEUE : 4;
  localparam integer JOB = 32 + 24 + 10 + 24 + 1 + 8;
  localparam integer JOBS = waiting_bits(2 * TICKS); // as many transfers wait at most, as a power of two: of a line's lag and one more

  wire [JOB-1:0] job;
  wire job_there;
  reg [JOBS:0] jobs_held;
  wire job_done;
  queue #(.WIDTH(JOB), .ADDRESS(JOBS), .WHAT("transfers that wait")) jobs (
    .clk(clk), .reset(reset), .put(begins),
    .entry({write_now + begin_late, begin_address, begin_step, begin_count, single, begin_byte}),
    .take(job_done), .first(job), .there(job_there));
  wire [31:0] start = job[JOB-1 -: 32];
  wire [23:0] first_address = job[JOB-33 -: 24];
  wire [9:0] step = job[JOB-57 -: 10];
  wire [23:0] count = job[JOB-67 -: 24];
  wire job_single = job[8];

  reg begun;                           // the first transfer has given a byte
  reg [23:0] at, given;
  reg [31:0] last_hand;                // when the byte before was at hand
  reg any_hand;
  reg [31:0] landed [0:HELD-1];        // when the last bytes landed
  reg [15:0] issue, retire;            // places of the two ends in the ring
  reg [15:0] held;
  reg [15:0] early;                    // bytes so far, up to as many as the chip holds: nothing landed in their places before
  reg [31:0] hands [0:HELD-1];
  reg [23:0] spots [0:HELD-1];
  reg [7:0] values [0:HELD-1];

  // when the next byte is at hand
  wire frees = held == HELD && served; // the place of the byte that lands now is the next one's
  wire [31:0] freed = frees ? slot_now : landed[issue];
`ifdef FAULT_QUEUE
  wire counts_freed = 0;               // a place of the queue is free at once
`else
  wire counts_freed = CPU_PACED && CPU_QUEUE > 0 && early == HELD;
`endif
  reg [31:0] earlier, hand;
  reg known;
  always @* begin
    earlier = last_hand;
    known = any_hand;
    if (counts_freed && (!known || $signed(freed - earlier) > 0)) begin
      earlier = freed;
      known = 1;
    end
    if (!begun) hand = known && $signed(earlier - start) > 0 ? earlier : start;
`ifdef FAULT_PACE
    else hand = earlier + CPU_LOOP + CPU_UNITS * MEMORY_RATE_ACCESSES;
`else
    else hand = earlier + CPU_LOOP;
`endif
  end
  wire issues = tick && job_there && (held < HELD || frees);
  wire [23:0] spot = begun ? at : first_address;
  assign takes = issues && !job_single;
  assign job_done = issues && (begun ? given : 24'd0) + 24'd1 == count;

  assign ask = held != 0 && $signed(slot_now - hands[retire]) >= 0;
  assign address = spots[retire];
  assign value = values[retire];

  wire works = reset || begins || issues || served;
  always @(posedge clk)
    if (!works) begin
    end else if (reset) begin
      begun <= 0; at <= 0; given <= 0; last_hand <= 0; any_hand <= 0;
      issue <= 0; retire <= 0; held <= 0; early <= 0; jobs_held <= 0; overflow <= 0;
    end else begin
      jobs_held <= jobs_held + {{JOBS{1'b0}}, begins} - {{JOBS{1'b0}}, job_done};
      if (begins && jobs_held == 1 << JOBS) overflow <= 1;
      held <= held + {15'd0, issues} - {15'd0, served};
      if (issues) begin
        hands[issue] <= hand;
        spots[issue] <= spot;
        values[issue] <= job_single ? job[7:0] : next_byte;
        issue <= issue == HELD - 1 ? 16'd0 : issue + 16'd1;
        last_hand <= hand;
        any_hand <= 1;
        if (early != HELD) early <= early + 16'd1;
        begun <= !job_done;
        given <= job_done ? 24'd0 : (begun ? given : 24'd0) + 24'd1;
        at <= (spot + {14'd0, step}) % MEMORY_SIZE;
      end
      if (served) begin
        landed[retire] <= slot_now;
        retire <= retire == HELD - 1 ? 16'd0 : retire + 16'd1;
      end
    end

`ifndef SYNTHESIS
  // for a test bench that begins in the middle: a byte that is there already, at hand at `when`
  task put_hand;
    input [31:0] when;
    input [31:0] where;
    input [7:0] what;
    begin
      hands[issue] = when;
      spots[issue] = where[23:0];
      values[issue] = what;
      issue = issue == HELD - 1 ? 16'd0 : issue + 16'd1;
      held = held + 16'd1;
      early = early == HELD ? early : early + 16'd1;
      last_hand = when;
      any_hand = 1;
    end
  endtask
  // and the first transfer goes on where bytes of it have been
  task go_on;
    input [23:0] where;
    begin
      begun = 1;
      at = where;
      given = 0;
    end
  endtask
`endif
endmodule
