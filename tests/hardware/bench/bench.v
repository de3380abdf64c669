// Drives the chip with an exported folder and holds it against what the folder expects.
//
//   +folder=PATH   the folder
//   +first=N       number of the folder's first frame (default 0)
//   +frames=N      how many frames (default 2)
//   +capture=FILE  prints what the design does, as records
//   +compare       holds it against vectors/, and names the first difference of each kind
//   +seconds       nothing else than that is optional
//
// The design fetches one line and shows two lines after the scanner. So what is written past the
// bus into memory is written one line later, and into the palette two lines and four ticks later:
// there is a list for either. Everything else is done when the scanner is there.
`timescale 1ns / 1ns
module bench;
  `include "design.vh"
  localparam integer N = SPRITE_SLOTS;
  localparam integer BYTES_KEPT = 1 << 20;

  reg clk, reset, tick, hold, bus_write, bus_read, transfer_begins;
  reg [15:0] bus_address;
  reg [7:0] bus_data;
  reg [23:0] transfer_address, transfer_count;
  reg [9:0] transfer_step;
  reg [31:0] transfer_late;            // by so much later than now a transfer starts
  wire [23:0] memory_word;
  wire [MEMORY_ACCESS_BYTES-1:0] memory_write;
  wire [BUS_BITS-1:0] memory_data, memory_value;
  wire dot_shows, idle, ticks, fetch_begins, transfer_takes;
  wire [15:0] dot_entry, scan_line, scan_dot, trace_line, trace_dot, trace_access_line, trace_slot;
  wire [15:0] trace_missed_line, trace_sprite_line, trace_flag_line, trace_flag_dot;
  wire [23:0] dot_colour, trace_address;
  wire [1:0] scan_kind, trace_reason;
  wire [7:0] trace_source, trace_rung, trace_client;
  wire [SPRITE_NUMBER-1:0] trace_sprite, trace_found, trace_drawn, trace_drop;
  wire [7:0] trace_flags, flags, groups;
  wire trace_access, trace_counts, trace_drops, trace_meets, overflow;
  wire [63:0] trace_value;
  wire [4:0] answers;
  wire [39:0] answered;
  wire [8*PLACES-1:0] trace_missed;
  wire [N*N-1:0] trace_met;
  wire [SPRITE_NUMBER*N-1:0] trace_met_numbers;
  reg [7:0] bytes [0:BYTES_KEPT-1];    // of transfers, in the order of the file
  integer bytes_in, bytes_out;

  chip chip (
    .clk(clk), .reset(reset), .tick(tick), .hold(hold), .bus_write(bus_write), .bus_read(bus_read),
    .bus_address(bus_address), .bus_data(bus_data), .answers(answers), .answered(answered),
    .transfer_begins(transfer_begins), .transfer_address(transfer_address),
    .transfer_step(transfer_step), .transfer_count(transfer_count),
    .transfer_late(transfer_late), .transfer_byte(bytes[bytes_out]), .transfer_takes(transfer_takes),
    .memory_word(memory_word), .memory_write(memory_write), .memory_data(memory_data),
    .memory_value(memory_value), .dot_shows(dot_shows), .dot_entry(dot_entry),
    .dot_colour(dot_colour), .idle(idle), .ticks(ticks), .scan_line(scan_line),
    .scan_dot(scan_dot), .scan_kind(scan_kind), .fetch_begins(fetch_begins),
    .trace_source(trace_source), .trace_rung(trace_rung), .trace_sprite(trace_sprite),
    .trace_line(trace_line), .trace_dot(trace_dot), .trace_access(trace_access),
    .trace_access_line(trace_access_line), .trace_slot(trace_slot), .trace_client(trace_client),
    .trace_address(trace_address), .trace_value(trace_value), .trace_missed(trace_missed),
    .trace_missed_line(trace_missed_line), .trace_counts(trace_counts), .trace_found(trace_found),
    .trace_drawn(trace_drawn), .trace_drops(trace_drops), .trace_drop(trace_drop),
    .trace_reason(trace_reason), .trace_sprite_line(trace_sprite_line), .trace_flags(trace_flags),
    .trace_flag_line(trace_flag_line), .trace_flag_dot(trace_flag_dot), .trace_meets(trace_meets),
    .trace_met(trace_met), .trace_met_numbers(trace_met_numbers), .flags(flags), .groups(groups),
    .overflow(overflow));
  video_memory memory (.clk(clk), .word(memory_word), .write(memory_write), .data(memory_data),
                       .value(memory_value));

  `include "records.vh"
  `include "stimulus.vh"

  // ---- collisions of a line, sorted; misses of a line ----
  integer met_count, met_line, i, j, best;
  integer met_dot [0:N*N-1], met_first [0:N*N-1], met_second [0:N*N-1];
  reg met_done [0:N*N-1];
  task flush_met;
    begin
      for (i = 0; i < met_count; i = i + 1) begin
        best = -1;
        for (j = 0; j < met_count; j = j + 1)
          if (!met_done[j])
            if (best < 0 || met_first[j] < met_first[best]
                || met_first[j] == met_first[best] && met_second[j] < met_second[best]) best = j;
        met_done[best] = 1;
        $sformat(text, "collision %6d %4d %4d %4d %4d\n", frame, met_line, met_dot[best],
                 met_first[best], met_second[best]);
        record_out(K_COLLISION);
      end
      met_count = 0;
    end
  endtask
  integer misses [0:CLIENTS-1];
  task flush_missed;
    for (i = 0; i < CLIENTS; i = i + 1)
      if (misses[i] != 0) begin
        $sformat(text, "missed %6d %4d %2d %6d\n", frame, trace_missed_line, i, misses[i]);
        record_out(K_MISSED);
        misses[i] = 0;
      end
  endtask

  // ---- one clock; what the design says in it is taken before its edge ----
  task clock;
    input passes;
    begin
      tick = passes;
      do_later(now);
      #1;
      if (dot_shows) begin
        $sformat(text, "dot %6d %4d %4d %03h %06h %2d %3d %4d\n", frame, trace_line, trace_dot,
                 dot_entry[11:0], dot_colour, trace_source, trace_rung,
                 trace_sprite == NO_SPRITE ? -1 : $signed({1'b0, trace_sprite}));
        record_out(K_DOT);
      end
      if (trace_access) begin
        $sformat(text, "access %6d %4d %6d %2d %06h %016h\n", frame, trace_access_line, trace_slot,
                 trace_client, trace_address, trace_value);
        record_out(K_ACCESS);
      end
      if (trace_counts) begin
        $sformat(text, "sprites %6d %4d %4d %4d\n", frame, trace_sprite_line, trace_found, trace_drawn);
        record_out(K_SPRITES);
      end
      if (trace_drops) begin
        $sformat(text, "drop %6d %4d %4d %1d\n", frame, trace_sprite_line, trace_drop, trace_reason);
        record_out(K_DROP);
      end
      if (trace_missed != 0)
        for (i = 0; i < PLACES; i = i + 1)
          if (trace_missed[8*i +: 8] != 0)
            misses[PLACES_CLIENT[32*i +: 32]] = misses[PLACES_CLIENT[32*i +: 32]] + trace_missed[8*i +: 8];
      if (fetch_begins) flush_missed;
      if (trace_flags != 0)
        for (i = 0; i < 8; i = i + 1)
          if (trace_flags[i]) begin
            $sformat(text, "flag %6d %4d %4d %1d\n", frame, trace_flag_line, trace_flag_dot, i);
            record_out(K_FLAG);
          end
      if (trace_meets) begin
        if (met_count != 0 && met_line != trace_flag_line) flush_met;
        met_line = trace_flag_line;
        for (i = 0; i < N * N; i = i + 1)
          if (trace_met[i]) begin
            met_dot[met_count] = trace_flag_dot;
            met_first[met_count] = trace_met_numbers[SPRITE_NUMBER*(i / N) +: SPRITE_NUMBER];
            met_second[met_count] = trace_met_numbers[SPRITE_NUMBER*(i % N) +: SPRITE_NUMBER];
            if (met_first[met_count] > met_second[met_count]) begin
              j = met_first[met_count];
              met_first[met_count] = met_second[met_count];
              met_second[met_count] = j;
            end
            met_done[met_count] = 0;
            met_count = met_count + 1;
          end
      end
      for (i = 0; i < 5; i = i + 1)
        if (answers[i]) $display("answer %0d %02h", i, answered[8*i +: 8]);
      if (overflow) begin
        $display("a queue of the design was too small");
        $finish;
      end
      if (ticks) now = now + 1;
      got = transfer_takes;
      #4 clk = 1;
      #1;
      if (got) bytes_out = (bytes_out + 1) % BYTES_KEPT;
      #4 clk = 0;
    end
  endtask

  task a_tick;
    begin
      repeat (TICK_CLOCKS - 1) clock(0);
      clock(1);
    end
  endtask

  initial begin
    clk = 0; reset = 1; tick = 0; hold = 1; bus_write = 0; bus_read = 0; transfer_begins = 0;
    bus_address = 0; bus_data = 0; transfer_address = 0; transfer_step = 0; transfer_count = 0;
    bytes_in = 0; bytes_out = 0; now = 0; memory_in = 0; memory_out = 0; palette_in = 0; palette_out = 0;
    sprite_in = 0; sprite_out = 0; transfer_late = 0;
    met_count = 0; met_line = 0; differences = 0; capture = 0;
    for (k = 0; k < CLIENTS; k = k + 1) misses[k] = 0;
    if (!$value$plusargs("folder=%s", folder)) begin
      $display("give +folder=PATH");
      $finish;
    end
    if (!$value$plusargs("first=%d", first)) first = 0;
    if (!$value$plusargs("frames=%d", frames)) frames = 2;
    if ($value$plusargs("capture=%s", capture_name)) capture = $fopen(capture_name, "w");
    compares = $test$plusargs("compare");
    for (k = 0; k < KINDS; k = k + 1) begin
      differs[k] = 0;
      records[k] = 0;
      expected[k] = 0;
      $sformat(name, "%0s/vectors/%0s.txt", folder, kind_name(k));
      if (compares) begin
        expected[k] = $fopen(name, "r");
        if (expected[k] != 0) skip_header(k);  // a chip without status tells of none
      end
    end
    $sformat(name, "%0s/vectors/stimulus.txt", folder);
    stimulus = $fopen(name, "r");
    $sformat(name, "%0s/memory/video.hex", folder);
    $readmemh(name, memory.words);
    $sformat(name, "%0s/memory/palette.hex", folder);
    $readmemh(name, chip.palette.words);
    #10;
    for (k = 0; k < 4; k = k + 1) clock(0);
    reset = 0;
    clock(0);
    next_stimulus;
    for (frame = first; frame < first + frames; frame = frame + 1) begin
      while (s_there && s_frame == frame && s_line < 0) do_stimulus;
      hold = 0;
      while (scan_kind == LINE_IDLE) a_tick;
      hold = 1;
      while (!idle) begin
        // records before line 0's dots are of the line before it
        while (s_there && s_frame == frame && due(0)) do_stimulus;
        a_tick;
      end
      repeat (8) a_tick;               // writes of the last dot are as late as the picture is
      do_later(32'h7fffffff);
      flush_met;
      $sformat(text, "left %6d %02h %02h\n", frame, flags, groups);
      record_out(K_LEFT);
    end
    if (compares) begin
      for (k = 0; k < KINDS; k = k + 1) if (expected[k] != 0) begin
        if (!differs[k]) begin
          wanted = 0;
          got = $fgets(wanted, expected[k]);
          s_number = first + frames;
          if (got != 0) got = $sscanf(wanted, "%s %d", s_kind, s_number);
          if (got != 0 && s_number < first + frames) begin
            differences = differences + 1;
            $write("missing record of kind %0s: %0s", kind_name(k), wanted);
          end
        end
        $display("%0s: %0d records%0s", kind_name(k), records[k], differs[k] ? ", differ" : ", match");
      end
      $display("%0s", differences == 0 ? "all match" : "differs");
    end
    $finish;
  end

  // whether the record is due where the scanner is; `memory` and `sprite` stand among those of the blanking before their line
  function due;
    input unused;
    integer at_line, at_dot, scan;
    begin
      at_line = s_line;
      at_dot = s_dot;
      if (s_kind == "memory" || s_kind == "sprite") begin
        at_line = s_line - 1;
        at_dot = FRAME_WIDTH;
      end
      scan = scan_kind == LINE_EMPTY ? -1 : scan_line;
      due = scan_kind != LINE_IDLE && (at_line < scan || at_line == scan && at_dot <= scan_dot);
    end
  endfunction
endmodule
