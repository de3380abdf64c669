// Where the chip is in its frame.
//
// Three things run over the same lines, one behind the other. Writes and the scanner come first
// ("scan"); the memory makes the fetches of a line exactly one line later ("fetch"), so that it
// knows every group of the line before slot 0 of it; the picture shows one more line later
// ("show"). All three are the same counter of ticks, and line numbers that are handed on.
//
// A dot lasts MEMORY_RATE_ACCESSES ticks and a slot MEMORY_RATE_DOTS. The slots of a line begin at
// the dot after the picture's last of the line before.
//
// A line is idle (held: nothing happens), empty (sprites of line 0 are prepared), or of the frame.
// With `hold` the beam idles after a frame's last line; when it ends there is one empty line and
// then line 0. Without, line 0 follows the last line at once.
module beam (
    clk, reset, tick, hold,
    dot, dot_end, line, kind, turn, line_end, begins_line, begins_frame, after_line,
    fetch_begin, fetch_line, fetch_kind, fetch_turn, fetch_next,
    slot, slot_at, slot_on, slot_end, slot_now, write_now,
    show_line, show_kind, show_turn, idle
);
  `include "design.vh"
  input clk, reset, tick, hold;
  output reg [15:0] dot;         // the scanner's dot
  output dot_end;                // the last tick of that dot
  output reg [15:0] line;        // the scanner's line
  output reg [1:0] kind;         // LINE_IDLE, LINE_EMPTY or LINE_FRAME
  output reg [1:0] turn;         // counts lines, to tell buffers apart
  output line_end;               // the line's last tick
  output begins_line;            // with line_end: the next one takes what waits for a line
  output begins_frame;           // with line_end: the next one takes what waits for a frame
  output [15:0] after_line;      // the line that follows the scanner's
  output fetch_begin;            // the tick before slot 0
  output reg [15:0] fetch_line;
  output reg [1:0] fetch_kind, fetch_turn;
  output [15:0] fetch_next;      // the line that follows the memory's
  output reg [15:0] slot, slot_at; // the slot and the tick of the line at which it begins
  output slot_on, slot_end;
  output [31:0] slot_now;        // when the slot begins, in the CPU's units
  output reg [31:0] write_now;   // the scanner's time in the same units
  output reg [15:0] show_line;
  output reg [1:0] show_kind, show_turn;
  output idle;

  reg [15:0] at;                 // tick of the line
  reg [7:0] dot_part, slot_part;
  reg [1:0] next_kind;
  reg [31:0] fetch_now;
  reg [15:0] middle_line;
  reg [1:0] middle_kind, middle_turn;

  assign dot_end = tick && dot_part == MEMORY_RATE_ACCESSES - 1;
  assign line_end = tick && at == TICKS - 1;
  assign fetch_begin = tick && at == TICKS_SHOWN - 1;
  assign after_line = line == FRAME_LINES_PER_FRAME - 1 ? 16'd0 : line + 16'd1;
  assign fetch_next = fetch_line == FRAME_LINES_PER_FRAME - 1 ? 16'd0 : fetch_line + 16'd1;
  assign slot_on = slot < MEMORY_SLOTS_PER_LINE && fetch_kind != LINE_IDLE;
  assign slot_end = tick && slot_on && slot_part == MEMORY_RATE_DOTS - 1;
  assign slot_now = fetch_now - slot_part * CPU_UNITS;
  assign begins_line = line_end && next_kind != LINE_IDLE;
  assign begins_frame = begins_line && (next_kind == LINE_EMPTY || kind != LINE_FRAME
      || line == FRAME_LINES_PER_FRAME - 1);
  assign idle = kind == LINE_IDLE && middle_kind == LINE_IDLE && show_kind == LINE_IDLE
      && fetch_kind == LINE_IDLE;

  always @(posedge clk)
    if (reset) begin
      at <= 0; dot <= 0; dot_part <= 0; line <= 0; kind <= LINE_IDLE; turn <= 0;
      next_kind <= LINE_IDLE;
      fetch_line <= 0; fetch_kind <= LINE_IDLE; fetch_turn <= 0;
      slot <= 0; slot_at <= 0; slot_part <= 0; fetch_now <= 0; write_now <= 0;
      middle_line <= 0; middle_kind <= LINE_IDLE; middle_turn <= 0;
      show_line <= 0; show_kind <= LINE_IDLE; show_turn <= 0;
    end else if (tick) begin
      at <= line_end ? 16'd0 : at + 16'd1;
      dot_part <= dot_end ? 8'd0 : dot_part + 8'd1;
      if (dot_end) dot <= line_end ? 16'd0 : dot + 16'd1;

      // the memory's side
      if (fetch_begin) begin
        fetch_line <= line; fetch_kind <= kind; fetch_turn <= turn;
        slot <= 0; slot_at <= 0; slot_part <= 0;
        case (kind)
          LINE_IDLE: next_kind <= hold ? LINE_IDLE : LINE_EMPTY;
          LINE_EMPTY: next_kind <= LINE_FRAME;
          default: next_kind <= hold && line == FRAME_LINES_PER_FRAME - 1 ? LINE_IDLE : LINE_FRAME;
        endcase
      end else if (slot_part == MEMORY_RATE_DOTS - 1) begin
        slot <= slot + 16'd1; slot_at <= slot_at + MEMORY_RATE_DOTS; slot_part <= 0;
      end else slot_part <= slot_part + 8'd1;
      if (fetch_kind == LINE_FRAME) fetch_now <= fetch_now + CPU_UNITS;
      if ((at >= TICKS_SHOWN ? next_kind : kind) == LINE_FRAME)
        write_now <= write_now + CPU_UNITS;

      // the lines handed on
      if (line_end) begin
        kind <= next_kind;
        turn <= turn + 2'd1;
        line <= next_kind == LINE_EMPTY ? 16'hffff : kind == LINE_EMPTY ? 16'd0 : after_line;
        middle_line <= line; middle_kind <= kind; middle_turn <= turn;
        show_line <= middle_line; show_kind <= middle_kind; show_turn <= middle_turn;
      end
    end
endmodule
