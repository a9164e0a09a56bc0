Attribute VB_Name = "pourbook_ribbon"
'The buttons of the Pourbook tab: each opens Pourbook's window at its step, this workbook chosen.
Sub PourbookStep(ByVal control As IRibbonControl)
    If Not ThisWorkbook.Saved Then
        MsgBox "Save this workbook first: Pourbook reads the saved file.", vbInformation, "Pourbook"
        Exit Sub
    End If
    On Error GoTo failed
    open_step Mid$(control.ID, 4), ThisWorkbook.FullName
    Exit Sub
failed:
    MsgBox Err.Description, vbExclamation, "Pourbook"
End Sub
