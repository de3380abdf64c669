// A part of the bench: the records that it prints, and what they are held against.
  // ---- records out, and the comparison, line by line of text ----
  localparam integer KINDS = 8;
  localparam integer K_DOT = 0, K_ACCESS = 1, K_SPRITES = 2, K_DROP = 3, K_COLLISION = 4, K_FLAG = 5,
      K_LEFT = 6, K_MISSED = 7;
  localparam integer TEXT = 8 * 64;
  reg [8*1024-1:0] folder, capture_name, name;
  integer capture, compares, first, frames, frame, k, got, differences;
  integer expected [0:KINDS-1];
  reg differs [0:KINDS-1];
  integer records [0:KINDS-1];
  reg [TEXT-1:0] text, wanted;

  function [8*9-1:0] kind_name;
    input integer kind;
    case (kind)
      K_DOT: kind_name = "dot";
      K_ACCESS: kind_name = "access";
      K_SPRITES: kind_name = "sprites";
      K_DROP: kind_name = "drop";
      K_COLLISION: kind_name = "collision";
      K_FLAG: kind_name = "flag";
      K_LEFT: kind_name = "left";
      default: kind_name = "missed";
    endcase
  endfunction

  // the next expected record of a kind; none at the end of the file
  reg [8*256-1:0] header;
  integer position;
  task skip_header;
    input integer kind;
    begin
      header = "#";
      while (header[7:0] == "#") begin
        position = $ftell(expected[kind]);
        header = 0;
        got = $fscanf(expected[kind], "%1s", header);
        if (header[7:0] == "#") got = $fgets(rest, expected[kind]);
        else got = $fseek(expected[kind], position, 0);
      end
    end
  endtask

  task record_out;
    input integer kind;
    begin
      records[kind] = records[kind] + 1;
      if (capture != 0) $fwrite(capture, "%0s", text);
      if (expected[kind] != 0 && !differs[kind]) begin
        wanted = 0;
        got = $fgets(wanted, expected[kind]);
        if (wanted !== text) begin
          differs[kind] = 1;
          differences = differences + 1;
          $display("first difference of kind %0s, record %0d", kind_name(kind), records[kind]);
          if (got == 0) $display("  expected none");
          else $write("  expected %0s", wanted);
          $write("  got      %0s", text);
        end
      end
    end
  endtask
